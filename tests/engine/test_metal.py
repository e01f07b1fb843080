"""The GPU of a Mac, as far as another machine can tell: when it is taken, and what is said where not."""

import ctypes
import platform
import re
import shutil
import subprocess
import sys
import types

import numpy as np
import pytest

from previz.checks import doctor, doctor_trials
from previz.engine import backend, frozen, metal
from previz.errors import EngineError, resource_error

FRAMEWORKS = """\
#include <stdint.h>
#include <string.h>
/* Pointers beyond 32 bits: a call whose types were not given would lose half of them. */
#define DEVICES ((void *)0x7f0000001000)
#define DEVICE ((void *)0x7f0000002000)
#define NAME ((void *)0x7f0000003000)
#define TOLD ((void *)0x7f0000004000)
#define FAMILY ((void *)0x7f0000005000)
#define OLDER ((void *)0x7f0000006000)
void *MTLCopyAllDevices(void) { return DEVICES; }
long CFArrayGetCount(void *array) { return array == DEVICES ? COUNT : -1; }
/* The last one can serve; what is before it is of an older family. */
void *CFArrayGetValueAtIndex(void *array, long at) {
    return array == DEVICES && at == COUNT - 1 ? DEVICE : OLDER;
}
void *sel_registerName(const char *name) {
    return !strcmp(name, "name") ? NAME : !strcmp(name, "supportsFamily:") ? FAMILY : 0;
}
void *objc_msgSend(void *self, void *what, long which) {
    if (what == FAMILY) return (void *)(uintptr_t)(self == DEVICE && which == SERVES);
    return self == DEVICE && what == NAME ? TOLD : 0;
}
_Bool CFStringGetCString(void *text, char *to, long size, uint32_t encoding) {
    if (text != TOLD || size < 9 || encoding != 0x08000100) return 0;
    strcpy(to, "Chip 9\\xc2\\xb2");
    return 1;
}
"""
"""What macOS's libraries answer by their documentation, in one."""

compiled = pytest.mark.skipif(shutil.which("cc") is None, reason="the stand-in for macOS is compiled")


@pytest.fixture
def mac(monkeypatch):
    """A machine that says it is a Mac of today, on which Metal has one device."""
    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setattr(platform, "machine", lambda: "arm64")
    monkeypatch.setattr(platform, "mac_ver", lambda: ("15.3.1", ("", "", ""), "arm64"))
    monkeypatch.setattr(backend, "_offered", lambda variant: variant == backend.METAL)
    monkeypatch.setattr(backend, "has_cuda", lambda: False)
    monkeypatch.setattr(backend, "libraries", lambda: pytest.fail("LLVM is looked for"))
    monkeypatch.setattr(backend, "_engine", backend._Engine())
    backend.has_metal.cache_clear()
    yield monkeypatch
    backend.has_metal.cache_clear()


def framework(folder, monkeypatch, count=1, family=5001):
    """Put the stand-in in the place of macOS's libraries; 5001 is Apple's MTLGPUFamilyMetal3."""
    (folder / "mac.c").write_text(FRAMEWORKS)
    made = folder / "mac.so"
    subprocess.run(["cc", "-shared", "-fPIC", f"-DCOUNT={count}", f"-DSERVES={family}", "-o", made,
                    folder / "mac.c"], check=True)
    monkeypatch.setattr(metal, "FRAMEWORKS", str(made))
    monkeypatch.setattr(metal, "OBJECTIVE_C", str(made))


@compiled
def test_a_mac_renders_on_metal_and_needs_no_llvm(mac, tmp_path):
    """By itself and on request; the processor is left to who asks for it."""
    framework(tmp_path, mac)
    assert (backend.choose(), backend.choose("gpu"), backend.runs_on()) == ("gpu", "gpu", "gpu")
    assert backend.variant_of("gpu") == "metal_ad_rgb"
    assert backend.runs_on("processor") == "processor" and backend.variant_of("processor") == "llvm_ad_rgb"
    # A machine that has both takes CUDA.
    mac.setattr(backend, "has_cuda", lambda: True)
    assert backend.variant_of(backend.choose()) == "cuda_ad_rgb"


@compiled
def test_the_doctor_names_the_macs_gpu(mac, tmp_path):
    """By its own name, through every pointer of the way; an older one beside it is passed over."""
    framework(tmp_path, mac, count=2)
    assert doctor_trials.try_gpu() == {"name": "Chip 9²"}


@compiled
@pytest.mark.parametrize(("count", "family"), [(0, 5001), (1, 1002)])
def test_a_mac_without_a_device_that_serves_is_told(mac, tmp_path, count, family):
    """As a virtual machine may be, without any or with one of an older family."""
    framework(tmp_path, mac, count, family)
    assert backend.without_metal() == "no GPU of the family Metal 3" and backend.gpu() is None


@pytest.mark.parametrize(("what", "value", "told"), [
    ("machine", lambda: "x86_64", "processors of Intel"),
    ("mac_ver", lambda: ("14.7", ("", "", ""), "arm64"), "macOS 14.7; Metal takes macOS 15 or newer"),
    ("mac_ver", lambda: ("", ("", "", ""), ""), "Metal takes macOS 15 or newer"),
])
def test_what_a_mac_lacks_is_said(mac, what, value, told):
    """On request as an error with what to do, by itself by taking the processor, by the doctor as a note."""
    mac.setattr(platform, what, value)
    assert told in backend.without_metal()
    with pytest.raises(EngineError) as refused:
        backend.choose("gpu")
    assert told in refused.value.message and refused.value.advice == "Use `--backend processor`."
    mac.setattr(backend, "libraries", lambda: iter([backend.Library("/x", (19, 1, 0), True)]))
    mac.setenv("DRJIT_LIBLLVM_PATH", "")
    assert backend.choose() == "processor"
    answer = doctor_trials.try_gpu()
    mac.setattr(doctor, "trial", lambda *_: answer)
    found = doctor.gpu_found()
    assert (found.state, found.text) == ("note", f"{backend.without_metal()}; the processor renders")


def test_an_engine_without_metal_and_a_mac_without_the_framework(mac):
    """An engine that was built without it, and macOS's library that is not where it should be."""
    mac.setattr(metal, "FRAMEWORKS", "/nowhere/{0}")
    assert backend.without_metal().startswith("Metal cannot be loaded (")
    mac.setattr(backend, "_offered", lambda variant: False)
    mac.setattr(metal, "lacking", str)
    assert backend.without_metal() == "an engine that was built without Metal"


def test_no_other_machine_is_asked_for_metal(monkeypatch):
    """Whatever lies where macOS has its libraries."""
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(ctypes, "CDLL", lambda *_: pytest.fail("a library is loaded"))
    assert backend.without_metal() == "no Mac"


@pytest.mark.engine
def test_the_engines_own_list_says_which_variants_it_has(engine):
    """What is read without starting it is what it says once it runs."""
    import mitsuba

    every = {backend.LLVM, backend.CUDA, backend.METAL}
    assert {each for each in every if backend._offered(each)} == every & set(mitsuba.variants())


@pytest.mark.engine
def test_kernels_ask_for_nothing_that_metal_lacks(engine, tiny):
    """Neither double precision nor sums of 64 bits that lanes share.

    Metal Shading Language Specification, 2.1 (no double) and 6.16.4.6 (64-bit atomics: min and max alone). A
    picture and a meter, as LLVM is given them.
    """
    mi, dr = engine
    if not mi.variant().startswith("llvm"):
        pytest.skip("kernels are read as LLVM has them")
    stage = tiny.stage(tiny.closed_box((0, 0, 0), (3, 2.4, 2)), surfaces=[tiny.surface(gloss=0.5)],
                       emitters=[tiny.rectangle_lamp(0.6, 0.4, (2.4, 1, 1.9), index=0)],
                       probes=[tiny.probe((1, 1, 0.5))])
    # A recording that is launched again shows no text.
    frozen.forget()
    with dr.scoped_set_flag(dr.JitFlag.KernelHistory, True):
        dr.kernel_history_clear()
        tiny.picture(stage, tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8)), 16, 12, 2, passes=1, bands=3)
        tiny.measure(stage, 0, most_rounds=1, bands=3)
        texts = [each["ir"].getvalue() for each in dr.kernel_history() if each["type"] == dr.KernelType.JIT]
    assert max(map(len, texts)) > 50_000 and all("float" in text for text in texts)
    for text in texts:
        assert re.search(r"\bdouble\b", text) is None
        assert re.search(r"\b(atomicrmw|cmpxchg)\b.*\bi64\b", text) is None


@pytest.mark.engine
def test_a_launch_that_is_stopped_unheard_is_found_out(tiny, monkeypatch):
    """Lanes that did not come to their end hold what an earlier launch has left: nothing is taken for light.

    Short launches and marks change no bit of a picture, and the marks of a launch are no other's.
    """
    from previz.engine import ended, kernel

    stage = tiny.stage(tiny.closed_box((0, 0, 0), (3, 2.4, 2)),
                       emitters=[tiny.rectangle_lamp(0.6, 0.4, (2.4, 1, 1.9), index=0)])
    camera = tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8))
    before = tiny.picture(stage, camera, 16, 12, 4, passes=2, bands=3).slices

    launches = []

    class Seen(ended.Ended):
        def hold(self, marks, samples):
            launches.append((len(marks), marks))
            super().hold(marks, samples)

    monkeypatch.setattr(ended, "watched", lambda: True)
    monkeypatch.setattr(kernel, "watched", lambda: True)
    monkeypatch.setattr(kernel, "Ended", Seen)
    monkeypatch.setattr(ended, "MOST_PATHS", 3 * 16 * 2)
    assert np.array_equal(tiny.picture(stage, camera, 16, 12, 4, passes=2, bands=3).slices, before)
    # Two passes of two paths a pixel, in strips of three rows.
    assert [count for count, _ in launches] == [3 * 16] * 8
    assert len({np.array(marks)[0] for _, marks in launches}) == 8

    class Stopped(ended.Ended):
        def hold(self, marks, samples):
            marks = np.array(marks)
            marks[-1] = np.array(launches[-1][1])[-1]
            super().hold(marks, samples)

    monkeypatch.setattr(kernel, "Ended", Stopped)
    with pytest.raises(EngineError, match="stopped the GPU before its work was done"):
        tiny.picture(stage, camera, 16, 12, 4, passes=2, bands=3)


def test_launches_are_watched_on_metal_alone(monkeypatch):
    """There they are short, whatever a pixel takes; elsewhere what fits is one."""
    from previz.engine import ended

    for variant, most in (("metal_ad_rgb", 5 * (1 << 20) // 64), ("cuda_ad_rgb", 10**8),
                          ("llvm_ad_rgb", 10**8)):
        monkeypatch.setattr(backend, "_engine", backend._Engine(variant))
        assert ended.launch_floats(10**8, 5, 64) == most


class Libraries:
    """The renderer's two libraries, as far as starting them goes."""

    def __init__(self):
        self.variant, self.threads = None, None
        self.LogLevel = types.SimpleNamespace(Error=0)

    def set_variant(self, variant):
        self.variant = variant

    def set_log_level(self, level):
        pass

    def set_thread_count(self, count):
        self.threads = count


@pytest.mark.parametrize(("request_", "variant", "threads"), [
    ("gpu", "metal_ad_rgb", None), ("processor", "llvm_ad_rgb", 3)])
def test_what_is_started_on_a_mac(mac, request_, variant, threads):
    """The variant that goes with the choice; threads are set where there are any."""
    both = Libraries()
    mac.setattr(backend, "without_metal", lambda: "")
    mac.setattr(backend, "libraries", lambda: iter([backend.Library("/x", (19, 1, 0), True)]))
    mac.setattr(backend.importlib, "import_module", lambda name: both)
    mac.setenv("DRJIT_LIBLLVM_PATH", "")
    mac.setenv("PREVIZ_THREADS", "3")
    backend.start(request_)
    assert (both.variant, both.threads) == (variant, threads)
    assert backend.runs_on() == backend.runs_on("auto") == request_
    with pytest.raises(EngineError, match=f"renders on the {request_.replace('gpu', 'GPU')} already"):
        backend.start("processor" if request_ == "gpu" else "gpu")


@pytest.mark.parametrize(("text", "gpu"), [
    ("jit_malloc(): out of memory! Could not allocate 8 bytes (backend=metal, shared=0).", True),
    ("MetalAccel: failed to allocate acceleration structure storage (8 + 8 bytes).", True),
    ("jit_malloc(): out of memory! Could not allocate 8 bytes (backend=llvm, shared=1).", False),
])
def test_memory_that_is_used_up_says_whose(text, gpu):
    """Messages of Dr.Jit 1.5 and mitsuba 3.9 as their libraries for macOS hold them."""
    told = resource_error(RuntimeError(text))
    assert ("on the GPU" in told.message) is gpu and ("--backend processor" in told.advice) is gpu


def test_an_llvm_of_the_windows_installer_is_found(monkeypatch, tmp_path):
    """Where the LLVM project's own installer puts it."""
    library = tmp_path / "LLVM" / "bin" / "LLVM-C.dll"
    library.parent.mkdir(parents=True)
    library.touch()
    monkeypatch.setenv("ProgramFiles", str(tmp_path))
    assert str(library) in backend._candidates()
