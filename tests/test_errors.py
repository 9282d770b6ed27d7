"""The sentence that a user reads, and the facts that an error carries."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from skyview.errors import InputError, SkyviewError, StorageError


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (("it is wrong",), "it is wrong."),
        (("it is wrong.",), "it is wrong."),
        (("it is wrong", "survey.json"), "survey.json: it is wrong."),
        (("it is wrong", None, "site"), "site: it is wrong."),
        (("it is wrong", "survey.json", "site"), "survey.json, site: it is wrong."),
        (
            ("it is wrong", "survey.json", "site", "make it right"),
            "survey.json, site: it is wrong; make it right.",
        ),
        (("two\n  lines", None, None, "make\tone."), "two lines; make one."),
    ],
)
def test_sentence_names_file_field_fault_and_mend(given, sentence):
    assert str(InputError(*given)) == sentence


def test_error_carries_its_facts():
    error = InputError("it is wrong", Path("folder") / "survey.json", "site", "make it right")
    assert error.message == "it is wrong"
    assert error.file == str(Path("folder") / "survey.json")
    assert error.field == "site"
    assert error.mend == "make it right"


@pytest.mark.parametrize(("kind", "exit_code"), [(InputError, 2), (StorageError, 1)])
def test_family_and_exit_codes(kind, exit_code):
    error = kind("it is wrong")
    assert isinstance(error, SkyviewError)
    assert error.exit_code == exit_code
    assert SkyviewError("it is wrong").exit_code == 1


def test_error_survives_the_way_between_processes():
    error = InputError("it is wrong", "survey.json", "site", "make it right")
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is InputError
    assert str(back) == str(error)
    assert back.field == "site"
