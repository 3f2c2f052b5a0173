"""Stands in for pywin32's win32com.client; see README.md here."""


class CDispatch:
    """A COM object bound late."""


class CoClassBaseClass:
    """A COM object bound early."""


class DispatchBaseClass:
    """The same."""


def Dispatch(*_):
    raise NotImplementedError("there is no COM here")


DispatchEx = Dispatch
