"""Stands in for pywin32's win32com.server.util; see README.md in the folder above."""


def wrap(obj, iid=None):
    raise NotImplementedError("there is no COM here")


def unwrap(obj):
    raise TypeError("only wrapped objects can be unwrapped")
