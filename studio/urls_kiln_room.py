"""The site map of the kiln room: kilns, programmes, loads, fires and unloading."""

from __future__ import annotations

from django.urls import path

from .views import (
    firing_live,
    firing_report,
    firings,
    kiln_care,
    kiln_devices,
    kilns,
    load_moves,
    load_sheet,
    loads,
    programmes,
    proposals,
    readings,
    reconcile,
    shares,
    swap,
    unload,
    unload_app,
    unload_paper,
    unload_state,
    unload_sync,
)

kiln_room = [
    path("kilns/", kilns.kilns, name="kilns"),
    path("kilns/new/", kilns.kiln_new, name="kiln-new"),
    path("kilns/picture/", kilns.kiln_picture, name="kiln-picture"),
    path("kilns/<slug:code>/", kilns.kiln, name="kiln"),
    path("kilns/<slug:code>/change/", kilns.kiln_edit, name="kiln-edit"),
    path("kilns/<slug:code>/retire/", kilns.kiln_retire, name="kiln-retire"),
    path("firings/", firings.firings, name="firings"),
    path("firings/new/", loads.firing_new, name="firing-new"),
    path("firings/<int:number>/", firings.firing, name="firing"),
    path("firings/<int:number>/light/", firings.firing_light, name="firing-light"),
    path("firings/<int:number>/light/undo/", firings.firing_unlight, name="firing-unlight"),
    path("firings/<int:number>/readings/", readings.reading_new, name="reading-new"),
    path("firings/<int:number>/readings/file/", readings.readings_import, name="readings-import"),
    path("firings/<int:number>/readings/<slug:stamp>/drop/", readings.reading_drop, name="reading-drop"),
    path("firings/<int:number>/readings/file/<slug:code>/", readings.readings_file, name="readings-file"),
    path(
        "firings/<int:number>/readings/file/<slug:code>/back/",
        readings.readings_take_back,
        name="readings-take-back",
    ),
    path("firings/<int:number>/live/", firing_live.firing_live, name="firing-live"),
    path("firings/<int:number>/alarms/", firing_live.alarms_mute, name="alarms-mute"),
    path("kilns/<slug:code>/devices/", kiln_devices.kiln_devices, name="kiln-devices"),
    path(
        "kilns/<slug:code>/devices/<slug:device_code>/end/",
        kiln_devices.kiln_device_end,
        name="kiln-device-end",
    ),
    path("post/readings/", kiln_devices.device_readings, name="device-readings"),
    path("firings/<int:number>/end/", firings.firing_end, name="firing-end"),
    path("firings/<int:number>/end/undo/", firings.firing_unend, name="firing-unend"),
    path("firings/<int:number>/open/", firings.firing_open, name="firing-open"),
]

care = [
    path("kilns/<slug:code>/care/", kiln_care.care, name="kiln-care"),
    path("kilns/<slug:code>/care/new/", kiln_care.care_new, name="care-new"),
    path("kilns/<slug:code>/care/<slug:care_code>/", kiln_care.care_correct, name="care-correct"),
    path("kilns/<slug:code>/care/<slug:care_code>/back/", kiln_care.care_take_back, name="care-take-back"),
    path("kilns/<slug:code>/reminders/", kiln_care.care_reminders, name="care-reminders"),
    path("kilns/<slug:code>/reminders/<slug:kind>/silence/", kiln_care.care_silence, name="care-silence"),
    path("kilns/<slug:code>/reminders/<slug:kind>/wake/", kiln_care.care_wake, name="care-wake"),
]

programme_room = [
    path("programmes/", programmes.programmes, name="programmes"),
    path("programmes/new/", programmes.programme_new, name="programme-new"),
    path("programmes/preview/", programmes.programme_preview, name="programme-preview"),
    path("programmes/<slug:code>/", programmes.programme, name="programme"),
    path("programmes/<slug:code>/change/", programmes.programme_edit, name="programme-edit"),
    path("programmes/<slug:code>/retire/", programmes.programme_retire, name="programme-retire"),
    path("firings/<int:number>/programme/", programmes.firing_programme, name="firing-programme"),
    path("firings/<int:number>/report/", firing_report.report, name="firing-report"),
    path("firings/<int:number>/cones/", firing_report.cone_note, name="cone-note"),
    path("firings/<int:number>/cones/<slug:code>/", firing_report.cone_correct, name="cone-correct"),
    path("firings/<int:number>/cones/<slug:code>/strike/", firing_report.cone_strike, name="cone-strike"),
]

proposing = [
    path("firings/<int:number>/load/propose/", proposals.load_propose, name="load-propose"),
    path("proposals/<slug:code>/", proposals.proposal, name="proposal"),
    path("proposals/<slug:code>/stop/", proposals.proposal_stop, name="proposal-stop"),
    path("proposals/<slug:code>/take/", proposals.proposal_take, name="proposal-take"),
    path("queue/", proposals.queue, name="queue"),
]

load = [
    path("firings/<int:number>/load/", loads.load, name="load"),
    path("firings/<int:number>/load/put/", load_moves.load_put, name="load-put"),
    path("firings/<int:number>/load/layers/", loads.load_layers, name="load-layers"),
    path("firings/<int:number>/load/cancel/", loads.load_cancel, name="load-cancel"),
    path("firings/<int:number>/load/undo/<slug:code>/", load_moves.load_undo, name="load-undo"),
    path("firings/<int:number>/load/<slug:code>/out/", load_moves.load_take_out, name="load-take-out"),
    path("firings/<int:number>/load/<slug:code>/move/", load_moves.load_move, name="load-move"),
    path("firings/<int:number>/load/<slug:code>/pin/", load_moves.load_pin, name="load-pin"),
    path("firings/<int:number>/load/<slug:code>/swap/", load_moves.load_swap, name="load-swap"),
    path("firings/<int:number>/sheet/", load_sheet.load_sheet, name="load-sheet"),
]

unloading = [
    path("firings/<int:number>/unload/", unload.unload, name="unload"),
    path("firings/<int:number>/unload/state/", unload_state.unload_state, name="unload-state"),
    path("firings/<int:number>/unload/load.json", unload_sync.load, name="unload-load"),
    path("firings/<int:number>/unload/deliver/", unload_sync.deliver, name="unload-deliver"),
    path("firings/<int:number>/unload/photo/", unload_sync.photo, name="unload-photo"),
    path("firings/<int:number>/unload/map/", unload.unload_map, name="unload-map"),
    path("firings/<int:number>/unload/shut/", unload.unload_shut, name="unload-shut"),
    path("firings/<int:number>/unload/undo/<slug:code>/", unload.unload_undo_answer, name="unload-undo"),
    path("firings/<int:number>/reconcile/", reconcile.reconcile, name="reconcile"),
    path("firings/<int:number>/reconcile/found/", reconcile.found, name="found"),
    path("firings/<int:number>/reconcile/missing/<slug:code>/", reconcile.missing, name="missing"),
    path("firings/<int:number>/reconcile/swap/<slug:code>/", swap.swap, name="swap"),
    path("firings/<int:number>/close/", reconcile.close, name="firing-close"),
    path("firings/<int:number>/reopen/", reconcile.reopen, name="firing-reopen"),
    path("firings/<int:number>/shares/", shares.shares, name="shares"),
    path("firings/<int:number>/correct/", shares.correct, name="firing-correct"),
]

paper_twin = [
    path("firings/<int:number>/unload/paper/", unload_paper.unload_paper, name="unload-paper"),
    path("firings/<int:number>/unload/paper/type/", unload_paper.unload_paper_type, name="unload-paper-type"),
    path(
        "firings/<int:number>/unload/paper/undo/<slug:code>/",
        unload_paper.unload_paper_undo,
        name="unload-paper-undo",
    ),
]

on_the_phone = [
    path("unload/kept/", unload_app.kept, name="unload-kept"),
    path("unload/hello.json", unload_sync.hello, name="unload-hello"),
    path("unload-worker.js", unload_app.worker, name="unload-worker"),
    path("wareboard.webmanifest", unload_app.manifest, name="manifest"),
]

kiln_room_map = [
    *kiln_room,
    *care,
    *programme_room,
    *proposing,
    *load,
    *unloading,
    *paper_twin,
    *on_the_phone,
]
