"""The JSON Schema: made from the same table, held against a general-purpose validator."""

import json
import re
from copy import deepcopy
from pathlib import Path

import jsonschema
import pytest
import yaml

from previz.scene.fields import table
from previz.scene.light import LIGHTS, Light
from previz.scene.schema import schema

EXAMPLE = Path(__file__).parent / "example.yaml"


class CoreLoader(yaml.SafeLoader):
    """YAML 1.2's core schema, as editors read: true, 12 and 1.5 have types, the rest is text."""

    yaml_implicit_resolvers = {}


# YAML 1.2.2, section 10.3.2 (core schema).
for tag, expression in (
    ("bool", r"true|True|TRUE|false|False|FALSE"),
    ("null", r"null|Null|NULL|~|"),
    ("int", r"[-+]?[0-9]+"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?"),
):
    CoreLoader.add_implicit_resolver(
        f"tag:yaml.org,2002:{tag}", re.compile(f"^(?:{expression})$"), None
    )


@pytest.fixture(scope="module")
def validator():
    made = schema()
    jsonschema.Draft202012Validator.check_schema(made)
    return jsonschema.Draft202012Validator(made)


def read(loader):
    return yaml.load(EXAMPLE.read_text(encoding="utf-8"), Loader=loader)  # noqa: S506


def errors(validator, document):
    return [each.message for each in validator.iter_errors(document)]


@pytest.mark.parametrize("loader", [yaml.BaseLoader, CoreLoader])
def test_the_example_is_valid(validator, loader):
    """The example holds whether its scalars are kept as text or typed as in YAML 1.2."""
    assert errors(validator, read(loader)) == []


def test_the_schema_is_plain_json():
    """The schema survives being written as JSON, and names its draft."""
    made = schema()
    assert json.loads(json.dumps(made)) == made
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    # An editor loads it with each file; what all lamps share is there once, and a kind adds little.
    sizes = {cls: len(json.dumps(made["$defs"][cls.__name__])) for cls in LIGHTS.values()}
    assert max(sizes.values()) < 2_500
    assert len(json.dumps(made)) - sum(sizes.values()) < 136_000 + 1_000 * len(sizes)


def test_it_can_be_made_twice():
    """Making the schema leaves nothing behind."""
    assert schema() == schema()


def change(document, path, value):
    changed = deepcopy(document)
    *parents, last = path
    found = changed
    for step in parents:
        found = found[step]
    if value is KeyError:
        del found[last]
    else:
        found[last] = value
    return changed


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("lites",), []),
        (("previz",), "2"),
        (("previz",), KeyError),
        (("lights", 0, "dimer"), "80 %"),
        (("lights", 0, "kind"), "fresnell"),
        (("lights", 0, "output"), KeyError),
        (("lights", 0, "output"), "900 lx"),
        (("lights", 0, "cct"), "3200"),
        (("lights", 1, "beam"), "30 deg"),
        (("lights", 2, "aim"), KeyError),
        (("lights", 0, "on"), "off"),
        (("lights", 1, "gel"), "half cot"),
        (("cameras", 0, "lens"), "35"),
        (("cameras", 0, "stop"), "f/2.8"),
        (("cameras", 0, "sensor"), "super 36"),
        (("room", "size"), ["5 m", "4 m"]),
        (("room", "openings", 0, "panes"), ["1.5", "1"]),
        (("room", "surfaces", "floor"), "dark oka"),
        (("figures", 0, "facing"), "2 m"),
        (("figures", 0, "name"), "2nd"),
        (("ground",), {"colour": "sagge"}),
        (("pieces", 2, "mesh"), "/models/levers.obj"),
        (("options", "late", "lights", "desk lamp", "dimer"), "80 %"),
        (("options", "late", "daylight", "skye"), "clear"),
        (("options", "late", "add", "flag"), []),
        (("options", "late", "lites"), {}),
        (("mains", "phases"), "4"),
        (("mains", "frequency"), "60"),
        (("mains", "generator", "rating"), "40 kW"),
        (("mains", "circuits", 0, "phase"), "L4"),
        (("mains", "circuits", 0, "name"), KeyError),
        (("options", "late", "mains", "circuits", "1", "braker"), "32 A"),
    ],
)
def test_a_wrong_document_is_not_valid(validator, path, value):
    """A misspelt key, a missing unit, a word outside a list: an editor can underline them all."""
    assert errors(validator, change(read(yaml.BaseLoader), path, value)) != []


def a_lamp(cls, **fields):
    place = {} if "piece" in cls.sample else {"at": ["0 m", "0 m", "0 m"]}
    read = {name: yaml.load(value, Loader=yaml.BaseLoader) for name, value in cls.sample.items()}  # noqa: S506
    return {"previz": "1", "lights": [{"name": "lamp", "kind": cls.kind, **place, **read, **fields}]}


def test_each_kind_of_lamp_is_held_to_what_all_share_and_to_its_own(validator):
    """The sample of each is valid; a wrong shared value, a missing own field or another's is not."""
    for kind, cls in LIGHTS.items():
        assert errors(validator, a_lamp(cls)) == [], kind
        for wrong in ({"dimmer": "bright"}, {"watts": "60"}, {"beaam": "20 deg"}):
            assert errors(validator, a_lamp(cls, **wrong)) != [], (kind, wrong)
        for field in cls.sample:
            short = a_lamp(cls)
            del short["lights"][0][field]
            assert errors(validator, short) != [], (kind, field)
        shared = [name for name, entry in table(Light).items() if table(cls)[name] is entry]
        properties = validator.schema["$defs"][cls.__name__]["properties"]
        assert [name for name, made in properties.items() if made is True] == shared
    assert errors(validator, a_lamp(LIGHTS["bulb"], flood="0.5")) != []


def test_fields_are_described(validator):
    """Every property that a person can write has a description, and plain ones a default."""
    definitions = validator.schema["$defs"]
    for name in ("Fresnel", "Light", "Camera", "Figure", "Room", "Daylight"):
        for field, made in definitions[name]["properties"].items():
            assert field == "kind" or made is True or made["description"]
    camera = definitions["Camera"]["properties"]
    assert camera["shutter"]["default"] == "180 deg"
    assert camera["lens"]["examples"] == ["35 mm"]
    assert camera["lens"]["description"] == "Focal length. 1 mm to 5 m."
    assert set(definitions["Fresnel"]["required"]) == {"kind", "name", "at", "aim"}
    either = [{"required": ["output"]}, {"required": ["photometry"]}]
    assert definitions["Fresnel"]["anyOf"] == either
