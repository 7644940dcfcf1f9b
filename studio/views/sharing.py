"""How firings are shared: rules from a day on, what others would have cost whom, prices of electricity."""

from __future__ import annotations

from copy import copy
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import sharing_policies as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.sharing import ChoiceForm, LastForm, PolicyForm, RulesForm, TariffForm
from studio.models import SharingPolicy, Tariff
from studio.queries import sharing_choices
from studio.queries import sharing_policies as queries

from . import access
from .editing import edit_page


@access.tutor
@require_safe
def sharing(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    context = {"in_force": queries.policy_on(today), "policies": queries.policies(), "today": today}
    return render(request, "studio/sharing.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def sharing_new(request: HttpRequest) -> HttpResponse:
    """Rules from a day on; the address may carry some that were tried."""
    initial = RulesForm.initial_of(queries.policy_on(timezone.localdate()))
    if "basis" in request.GET:
        initial = {
            name: name in request.GET if isinstance(value, bool) else request.GET.get(name, value)
            for name, value in initial.items()
        }
    form = PolicyForm(request.POST or None, initial={**initial, "from_date": timezone.localdate()})
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_policy(
            by=request.user,
            from_date=form.cleaned_data["from_date"],
            words=form.cleaned_data["words"],
            **form.values(),
        ),
        heading=say("Rules from a day on"),
        done_url=reverse("sharing"),
        back_url=reverse("sharing"),
        done_words=say("Saved. Firings lit from that day on are shared by these rules."),
    )


@access.tutor
@require_POST
def sharing_drop(request: HttpRequest, code: str) -> HttpResponse:
    policy = get_object_or_404(SharingPolicy, code=code)
    try:
        actions.drop_policy(policy=policy, by=request.user)
        messages.success(request, say("Taken back. The rules before it stay in force."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("sharing")


@access.tutor
@require_safe
def sharing_compare(request: HttpRequest) -> HttpResponse:
    """What up to three sets of rules would have cost whom on the last firings. Nothing is written."""
    sent = request.GET if "last" in request.GET else None
    in_force = queries.policy_on(timezone.localdate())
    other = copy(in_force)
    other.basis = next(basis for basis in SharingPolicy.Basis.values if basis != in_force.basis)
    # To begin with: the rules in force beside the other basis; the third is free.
    tried = {"a": (in_force, True), "b": (other, True), "c": (in_force, False)}
    forms = [
        ChoiceForm(sent, prefix=letter, initial={**RulesForm.initial_of(rules), "used": used})
        for letter, (rules, used) in tried.items()
    ]
    last, used, comparison = LastForm(sent), [], None
    if sent is None:
        used = [form for form in forms if form.initial["used"]]
        rules = [tried[form.prefix][0] for form in used]
        comparison = sharing_choices.compare(rules, last=last.fields["last"].initial)
    elif last.is_valid() and not [form for form in forms if not form.is_valid()]:
        used = [form for form in forms if form.cleaned_data["used"]]
        rules = [form.rules() for form in used]
        comparison = sharing_choices.compare(rules, last=last.cleaned_data["last"])
    context = {
        "forms": forms,
        "last": last,
        "comparison": comparison,
        "columns": [(form.prefix.upper(), form, _as_address(form)) for form in used],
    }
    return render(request, "studio/compare.html", context, status=200 if comparison else 422)


def _as_address(form: ChoiceForm) -> str:
    """The page where these rules can be taken, with them filled in."""
    words = {}
    for name in RulesForm.base_fields:
        value = form[name].value()
        if value is False or value is None:
            continue
        words[name] = "on" if value is True else value
    return f"{reverse('sharing-new')}?{urlencode(words)}"


@access.tutor
@require_safe
def electricity(request: HttpRequest) -> HttpResponse:
    tariffs = (
        Tariff.objects.select_related("kiln").prefetch_related("spans").order_by("-from_date", "kiln__name")
    )
    return render(request, "studio/electricity.html", {"tariffs": tariffs})


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def electricity_new(request: HttpRequest) -> HttpResponse:
    form = TariffForm(request.POST or None, initial={"from_date": timezone.localdate()})
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_tariff(by=request.user, **form.cleaned_data),
        heading=say("What electricity costs"),
        done_url=reverse("electricity"),
        back_url=reverse("electricity"),
        done_words=say("Saved. Firings that are closed keep what was posted."),
    )
