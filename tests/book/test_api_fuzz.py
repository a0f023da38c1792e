"""Whatever a phone sends, it is answered with a sentence or kept; never with a bug."""

import json

import hypothesis
import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from rehang.book import members, queries
from rehang.trade.terms.kinds.register import KINDS
from tests.trade import cast

pytestmark = pytest.mark.django_db

NEAR = [
    "plug:P1", "plug:P2", "plug:", "cylinder:1", "1T", "9Z", "resistance", "gap", "spark", "look",
    "DM", "AN", "WG", "20k", "x10", "1.2 kohm", "ol", "steady", "-", "removed-P1", "WITHIN", "KEEP",
    "regap", "crack", "oil_wet", "2027-01", "", "²", "١٢", "1e999 kohm", "18/19 thou", "18+19", "+", "/",
]  # fmt: skip
LEAVES = st.one_of(
    st.sampled_from(NEAR),
    st.text(max_size=8),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.booleans(),
    st.none(),
)
JSON = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(["check", "written", "meter", "range", "as", "at_psi", "x"]), inner
        ),
    ),
    max_leaves=6,
)
OF_TYPE = {
    "text": st.sampled_from(NEAR),
    "yes or no": st.booleans(),
    "whole": st.integers(-5, 10**20),
    "number": st.floats(allow_nan=False) | st.integers(-5, 10**30),
    "list": st.lists(JSON, max_size=3),
    "table": st.dictionaries(st.text(max_size=3), LEAVES, max_size=2),
}


@st.composite
def entries(draw):
    """An entry of a known kind, its fields of the right type or now and then not."""
    kind = draw(st.sampled_from(sorted(KINDS)))
    must, may = KINDS[kind]
    chosen = {**must, **{k: v for k, v in may.items() if draw(st.booleans())}}
    fields = {name: draw(OF_TYPE[wanted]) for name, wanted in chosen.items()}
    if draw(st.integers(0, 4)) == 0:
        fields[draw(st.sampled_from(["id", "at", "kind", "by", *chosen]))] = draw(JSON)
    base = {"id": draw(st.uuids()).hex, "kind": kind, "at": cast.START.isoformat()}
    return {**base, **fields}


@pytest.fixture
def ada(job):
    client = Client(raise_request_exception=True)
    client.force_login(
        members.member("ada").user, backend="django.contrib.auth.backends.ModelBackend"
    )
    return client


@hypothesis.settings(
    max_examples=120, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
@given(body=st.lists(entries(), min_size=1, max_size=3) | JSON)
def test_anything_sent_is_kept_or_refused_with_a_sentence(ada, body):
    before = queries.job("case").head_seq
    answer = ada.post(
        "/api/jobs/case/entries",
        json.dumps({"entries": body}),
        content_type="application/json",
    )
    assert answer.status_code in (200, 400, 409, 422), answer.json()
    after = queries.job("case").head_seq
    if answer.status_code == 200:
        assert after == before + len(answer.json()["kept"])
        assert ada.get("/api/jobs/case/verdicts").status_code == 200
    else:
        assert after == before
        assert answer.json()["sentence"].rstrip('"').endswith((".", "}.")), answer.json()


@hypothesis.settings(
    max_examples=40, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
@given(body=st.binary(max_size=40) | st.text(max_size=40).map(str.encode))
def test_a_body_that_is_no_json_is_refused_with_a_sentence(ada, body):
    answer = ada.post("/api/jobs/case/entries", body, content_type="application/json")
    assert answer.status_code in (400, 422)
    assert answer.json()["sentence"].endswith(".")
