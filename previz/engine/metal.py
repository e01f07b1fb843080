"""What a Mac has of Metal, asked of macOS itself: Dr.Jit's own answer would start it.

Source: Dr.Jit 1.5, `jit_metal_init`: macOS 15 or newer, and a device of the family Metal 3 (Apple's M1 and
newer). Apple: MTLCopyAllDevices, an NSArray, which serves as CFArray; MTLDevice, name and supportsFamily;
MTLGPUFamily; Objective-C runtime, objc_msgSend, which is called with the method's own types; CFString,
CFStringGetCString, which takes an NSString too.
"""

from __future__ import annotations

import ctypes
import platform
import sys
from collections.abc import Iterator

OLDEST = 15
"""Oldest macOS on which Dr.Jit starts Metal."""

FAMILY = 5001
"""MTLGPUFamilyMetal3."""

FRAMEWORKS = "/System/Library/Frameworks/{0}.framework/{0}"
OBJECTIVE_C = "/usr/lib/libobjc.A.dylib"
"""Where macOS has its libraries."""

_UTF8 = 0x08000100

_Id = ctypes.c_void_p


def lacking() -> str:
    """Return why Metal cannot serve on this machine, in words; '' where it can."""
    if sys.platform != "darwin":
        return "no Mac"
    if platform.machine() != "arm64":
        return "a Mac, or a Python, for processors of Intel; Metal takes one of Apple's own"
    version = platform.mac_ver()[0]
    first = version.split(".")[0]
    if not first.isdecimal() or int(first) < OLDEST:
        return f"macOS {version}; Metal takes macOS {OLDEST} or newer"
    try:
        return "" if any(_serves(device) for device in _devices()) else "no GPU of the family Metal 3"
    except (OSError, AttributeError) as error:
        return f"Metal cannot be loaded ({error})"


def name() -> str:
    """Return the name of the first device that can serve; there is one where nothing is `lacking`."""
    text = ctypes.CDLL(FRAMEWORKS.format("CoreFoundation")).CFStringGetCString
    text.restype, text.argtypes = ctypes.c_bool, (_Id, ctypes.c_char_p, ctypes.c_long, ctypes.c_uint32)
    device, room = next(filter(_serves, _devices())), ctypes.create_string_buffer(256)
    told = _send(_Id)(device, _selector("name"))
    known = told and text(told, room, len(room), _UTF8)
    return room.value.decode(errors="replace") if known else "a Metal device"


def _devices() -> Iterator[int]:
    core, devices = (ctypes.CDLL(FRAMEWORKS.format(each)) for each in ("CoreFoundation", "Metal"))
    devices.MTLCopyAllDevices.restype, devices.MTLCopyAllDevices.argtypes = _Id, ()
    core.CFArrayGetCount.restype, core.CFArrayGetCount.argtypes = ctypes.c_long, (_Id,)
    core.CFArrayGetValueAtIndex.restype = _Id
    core.CFArrayGetValueAtIndex.argtypes = (_Id, ctypes.c_long)
    every = devices.MTLCopyAllDevices()
    for number in range(core.CFArrayGetCount(every) if every else 0):
        yield core.CFArrayGetValueAtIndex(every, number)


def _serves(device: int) -> bool:
    return bool(_send(ctypes.c_bool, ctypes.c_long)(device, _selector("supportsFamily:"), FAMILY))


def _selector(name: str) -> int:
    register = ctypes.CDLL(OBJECTIVE_C).sel_registerName
    register.restype, register.argtypes = _Id, (ctypes.c_char_p,)
    return register(name.encode())


def _send(gives, *takes):
    """Return objc_msgSend as a function of a device, a selector, and what a method takes besides."""
    return ctypes.CFUNCTYPE(gives, _Id, _Id, *takes)(("objc_msgSend", ctypes.CDLL(OBJECTIVE_C)))
