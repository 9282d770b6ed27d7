"""The interface is described in full, and holds against what nobody would send by hand."""

from __future__ import annotations

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis import checks
from schemathesis.specs.openapi import checks as openapi_checks

from skyview.workbench.app import application
from skyview.workbench.bench import Bench


def test_every_route_describes_its_answer_and_its_errors(reader):
    told = reader.get("/api/openapi.json").json()
    assert len(told["paths"]) >= 28
    for path, methods in told["paths"].items():
        for method, operation in methods.items():
            place = f"{method} {path}"
            assert operation["summary"], place
            good = [code for code in operation["responses"] if code.startswith("2")]
            assert good, place
            for code in ("401", "403", "404", "413", "422", "503"):
                assert code in operation["responses"], place
            for code in good:
                content = operation["responses"][code].get("content", {})
                schema = content.get("application/json", {}).get("schema")
                assert schema != {} or "json" not in str(content), place


def test_answers_fit_their_description(reader):
    """The samples' own answers, read strictly by the models that describe them."""
    from skyview.workbench import replies, replies_answer, replies_view

    for path, model in (
        ("/api/state", replies.StateReply),
        ("/api/survey", replies.SurveyReply),
        ("/api/next", replies.NextReply),
        ("/api/words", replies.WordsReply),
        ("/api/history", replies.HistoryListReply),
        ("/api/angles?view=gable", replies_view.AnglesReply),
        ("/api/pose?view=gable", replies.Pose),
        ("/api/paths", replies_answer.PathsReply),
        ("/api/heights?top_m=1&step_m=0.5", replies_answer.HeightsReply),
        ("/api/spots", replies_answer.SpotsReply),
        ("/api/pattern", replies_answer.PatternReply),
        ("/api/aims?antenna=main", replies_answer.AimsReply),
        ("/api/ground?view=gable", replies_view.GroundReply),
        ("/api/proposals?view=gable", replies_view.ProposalsReply),
        ("/api/jobs", replies.JobsReply),
    ):
        content = reader.get(path).json()
        model.model_validate(content)
        assert set(content) >= {
            field.alias or name for name, field in model.model_fields.items()
        }, path


CHECKS = (
    checks.not_a_server_error,
    openapi_checks.status_code_conformance,
    openapi_checks.content_type_conformance,
    openapi_checks.response_schema_conformance,
)
KNOWN = {"view": "gable", "spot": "ridge", "station": "QIVE", "antenna": "", "height_m": 1.5}
"""Values that lead past the first refusal; every other request keeps what was made up."""

ENDLESS = "/api/events"


def fuzz(bench: Bench, examples: int) -> int:
    """Send made-up requests to every route: how many were sent."""
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", application(bench))
    sent = 0
    for found in schema.get_all_operations():
        operation = found.ok()
        if operation.path == ENDLESS:
            continue

        @settings(
            max_examples=examples,
            deadline=None,
            derandomize=True,
            database=None,
            phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy(), led=st.booleans())
        def send(case, led):
            nonlocal sent
            if led and isinstance(case.query, dict):
                case.query.update({n: v for n, v in KNOWN.items() if n in case.query})
            if led and isinstance(case.body, dict) and "base" in case.body:
                case.body["base"] = bench.desk.survey().revision
            sent += 1
            case.call_and_validate(checks=CHECKS, timeout=120)

        send()
    return sent


def test_made_up_requests_get_described_answers(small_folder):
    assert fuzz(Bench(small_folder), 4) >= 100


def test_made_up_requests_without_a_survey(tmp_path):
    assert fuzz(Bench(tmp_path / "new"), 2) >= 50


@pytest.mark.slow
def test_many_made_up_requests(folder):
    assert fuzz(Bench(folder), 200) >= 4_000
