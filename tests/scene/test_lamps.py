"""Lamps and modifiers as records: their defaults, where these come from, and what follows."""

import pytest

from previz.errors import SceneError
from previz.physics.lamps import EFFICACY_LM_PER_W, KINDS, illuminant
from previz.scene.dressing import Blind, Curtain
from previz.scene.fields import COMMON_PRACTICE, table
from previz.scene.lamp import CIE_LAMPS, SPECTRA
from previz.scene.light import ACCESSORIES, LIGHTS, OwnSpectrum
from previz.scene.modifiers import CLOTHS, NETS, Board, Diffusion, Flag, Grid, Net

LAMP = """
previz: 1
lights:
  - name: key
    kind: {kind}
    at: [1 m, 1 m, 2 m]
    aim: [2 m, 2 m, 1 m]
"""

NEUTRAL = {
    "turn": 0.0, "duv": 0.0, "dimmer": 1.0, "iris": 1.0, "top": 0.0, "bottom": 0.0, "left": 0.0,
    "right": 0.0, "lowered": 1.0,
}  # fmt: skip
"""Fields whose default takes nothing away and adds nothing: no preset."""

RECORDS = [*LIGHTS.values(), *ACCESSORIES, Board, Diffusion, Flag, Net, Grid, Curtain, Blind]


def needs_a_source(name, entry):
    """Whether a default is a number, or sets numbers, that is no neutral one."""
    numbers = entry.default if isinstance(entry.default, tuple) else (entry.default,)
    return NEUTRAL.get(name) != entry.default and any(
        isinstance(each, int | float) and not isinstance(each, bool) for each in numbers)


def test_every_number_of_a_preset_says_where_it_comes_from():
    """A default that is a number, or sets numbers, has a source or is marked common practice."""
    found = [(cls, name, entry) for cls in RECORDS for name, entry in table(cls).items()
             if needs_a_source(name, entry)]
    assert len(found) > 50
    assert [f"{cls.__name__}.{name}" for cls, name, entry in found if not entry.source] == []


def test_the_spectra_are_those_that_can_be_made():
    """Every word for a spectrum is known to the physics, a two-colour LED as a mix of two."""
    assert set(SPECTRA) == {*KINDS, "two-colour led"}


def test_the_lamps_of_the_cie_are_those_tabulated():
    """Each name stands in the tables of CIE 15:2018 that are shipped; an unknown one does not."""
    for name in CIE_LAMPS:
        assert illuminant(name).shape == (81,)
    with pytest.raises(ValueError, match="known are: ") as caught:
        illuminant("none")
    listed = str(caught.value).partition("known are: ")[2].split(", ")
    assert set(CIE_LAMPS) == {each for each in listed if each[:2] in ("FL", "HP", "LE")}


def test_every_kind_has_usual_figures():
    """Ranges rise, name their source, and give an efficacy that some light source has."""
    best = max(high for _, high in EFFICACY_LM_PER_W.values())
    for kind, usual in ((kind, cls.usual) for kind, cls in LIGHTS.items()):
        assert usual.source, kind
        for each in (usual.lumens, usual.watts, usual.weight):
            assert each is None or 0 < each[0] < each[1], kind
        if usual.watts:
            # Small with small and large with large: no class gives more (check value 4.3).
            for lumens, watts in zip(usual.lumens, usual.watts, strict=True):
                assert 1 < lumens / watts < best, kind
    assert LIGHTS["candle"].usual.lumens[0] < 12.57 < LIGHTS["candle"].usual.lumens[1]


def test_the_sample_of_each_kind_is_good(load_text):
    """A scene of all samples loads; what a sample gives is usual, and none has a field to spare."""
    sign = "pieces: [{name: sign, shape: box, at: [9 m, 9 m, 0 m], size: [1 m, 0.1 m, 1 m]}]\n"
    for kind, cls in LIGHTS.items():
        assert cls.held in ("stand", "camera", "above", "set") and kind == cls.kind

        def text(fields, kind=kind):
            place = {} if "piece" in fields else {"at": "[0 m, 0 m, 0 m]"}
            written = {"name": "lamp", "kind": kind, **place, **fields}
            return (f"previz: 1\n{sign}lights: "
                    f"[{{{', '.join(f'{name}: {value}' for name, value in written.items())}}}]\n")

        lamp, = load_text(text(cls.sample)).scene().lights
        assert type(lamp) is cls
        if lamp.output.unit == "lm":
            assert cls.usual.lumens[0] <= lamp.output.value <= cls.usual.lumens[1], kind
        for field in cls.sample:
            with pytest.raises(SceneError, match=field):
                load_text(text({name: each for name, each in cls.sample.items() if name != field}))


def test_cloths_and_nets_lose_what_the_trade_says():
    """Transmissions lie above 0 and spreads from 0 to 1; a double net takes two single ones."""
    for transmission, spread in CLOTHS.values():
        assert 0 < transmission <= 1 and 0 <= spread <= 1
    assert NETS["single"] ** 2 == pytest.approx(NETS["double"])
    assert table(Net)["layers"].source == COMMON_PRACTICE


def test_a_measured_or_tabulated_lamp_keeps_its_own_colour(load_text):
    """Without a 'cct' it is None; with one, that counts."""
    text = LAMP.format(kind="panel") + "    size: [1 m, 1 m]\n    output: 900 lm\n"
    own = load_text(text + "    spectrum: {cie: FL11}\n").scene().lights[0]
    assert own.cct is None
    assert own.spectrum == OwnSpectrum(cie="FL11")
    tinted = load_text(text + "    spectrum: {cie: FL11}\n    cct: 4300 K\n").scene().lights[0]
    assert tinted.cct == 4300
    mixed = load_text(text + "    spectrum: {warm: 3000 K}\n").scene().lights[0]
    assert mixed.cct == 5600 and mixed.spectrum.ends == (3000, 6500)


def test_outputs_in_words(load_text):
    """An output is shown as it would be written."""
    candle = load_text(
        "previz: 1\nlights:\n  - {name: c, kind: candle, at: [1 m, 1 m, 1 m]}\n").scene().lights[0]
    assert str(candle.output) == "1 cd"
    far = load_text(LAMP.format(kind="fresnel") + "    output: 900 lx at 3 m\n").scene().lights[0]
    assert str(far.output) == "900 lx at 3 m"
    assert table(LIGHTS["candle"])["output"].show(candle.output) == "1 cd"


WITH_FILES = {
    "photometry: lamp.ies\n    beam: 20 deg":
        "8:11: light 'key' (fresnel) has a photometry file and 'beam'.",
    "output: 900 lm\n    gel: {file: sheet.csv, green: 0.01}":
        "8:35: 'gel' of light 'key' (fresnel) has a file and 'green'.",
}


@pytest.mark.parametrize("fields", WITH_FILES)
def test_a_file_says_it_all(folder, message_of, fields):
    """What a measurement says is not written next to it."""
    for name in ("lamp.ies", "sheet.csv"):
        (folder / name).write_text("0\n")
    text = message_of(LAMP.format(kind="fresnel").lstrip() + f"    {fields}\n")
    assert text.startswith(f"scene.yaml:{WITH_FILES[fields]}")


def test_the_list_shows_all_of_it():
    """`previz list` prints every kind, accessory, modifier and cloth with source and usual range."""
    from click.testing import CliRunner

    from previz.cli.list import command

    shown = CliRunner().invoke(command, [])
    assert shown.exit_code == 0
    for word in (*LIGHTS, *CLOTHS, *SPECTRA, "barn doors", "snoot", "egg crate", "net:", "grid:",
                 "usually 2000 to 60000 lm", "FL11", COMMON_PRACTICE):
        assert word in shown.output, word
    only = CliRunner().invoke(command, ["modifiers"])
    assert only.exit_code == 0 and "bleached muslin: transmission 30 %" in only.output
    gels = CliRunner().invoke(command, ["gels"]).output
    # Nominal: 5600 to 3200 K is 134 mired; two thirds of a stop and one and a half are lost.
    assert "full cto: +134 mired, passes 63 % of 5600 K" in gels
    assert "full ctb: -134 mired, passes 35.4 % of 3200 K" in gels
    assert "full plus green: Duv +0.031" in gels and "nd 0.3: passes 50.1 %" in gels
    for field in ("mired [mired]:", "transmission [%]:", "green:", "file:"):
        assert field in gels, field
    # Koschmieder: 3.912 / 0.045.
    assert "shafts: 0.045 /m, one sees 87 m" in CliRunner().invoke(command, ["fields"]).output
