"""The published JSON schema of machine files, read by the reference implementation of JSON Schema for Python."""

import json
import tomllib

import jsonschema
import pytest

from conftest import ROOT, borewright

SCHEMA = json.loads(borewright("machines", "--schema").stdout)
NAMES = [m["name"] for m in json.loads(borewright("machines", "--format", "json").stdout)["machines"]]
FILES = sorted(ROOT.glob("samples/**/*.toml"))


def judge(text):
    jsonschema.Draft202012Validator(SCHEMA).validate(tomllib.loads(text))


def test_it_is_a_schema_and_there_are_machines():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert len(NAMES) >= 5


@pytest.mark.parametrize("name", NAMES)
def test_every_built_in_machine_is_valid(name):
    judge(borewright("machines", name).stdout)


@pytest.mark.parametrize("path", FILES, ids=str)
def test_every_sample_machine_is_valid(path):
    judge(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "wrong",
    [
        'units = "ell"',
        "speed = 3",
        "[numbers]\ndecimals = 12",
        '[numbers]\ngreatest = "much"',
        "[variables]\nlocal = [[1, 33, 5]]",
        '[programs]\nletter = "ON"',
        "[flow]\nif_goto = 1",
    ],
)
def test_what_the_command_refuses_the_schema_refuses_too(wrong, tmp_path):
    file = tmp_path / "mill.toml"
    file.write_text(wrong + "\n", encoding="utf-8")
    assert borewright("machines", file, check=False).returncode == 1
    with pytest.raises(jsonschema.ValidationError):
        judge(wrong + "\n")
