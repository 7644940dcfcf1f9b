"""Makes a template fail on a name that its view did not give it."""


class UndefinedVariable(AssertionError):
    """A template used a name that is not in its context."""


class UndefinedFails(str):
    """Django's ``string_if_invalid``: it formats the missing name into this text, which is where we stop it.

    ``{% if name %}`` and ``{% for x in name %}`` ask Django for nothing instead and do not come here.
    """

    __slots__ = ()

    def __mod__(self, name: object) -> str:
        raise UndefinedVariable(f"The template uses “{name}”, which is not in its context.")
