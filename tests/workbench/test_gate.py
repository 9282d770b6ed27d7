"""The door: foreign names, foreign pages, keys, sizes, slowness, and what every answer carries."""

from __future__ import annotations

import pytest
from bench_client import HOME, HOST, change, patch, revision
from starlette.websockets import WebSocketDisconnect

from skyview.workbench.gate import LARGEST_BODY, Door, cookie_name
from skyview.workbench.keys import MOST_WRONG, Keys

POST = {"base": 0, "label": "x", "changes": [{"do": "set", "part": "title", "value": "taken"}]}


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8765", "127.0.0.1", "127.0.0.1:80", "localhost:1", "",
     "127.0.0.1:8765.evil.example", "user@127.0.0.1:8765", "[::1]:8765"],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/", "/api/state", "/api/survey", "/static/app.css"])
def test_another_name_is_refused(reader, host, path):
    """DNS rebinding: the browser believes that evil.example is 127.0.0.1, but says its name."""
    refused = reader.get(path, headers={"host": host})
    assert refused.status_code == 403
    assert "QIVE" not in refused.text


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"https://{HOST}", "http://127.0.0.1:1", HOME + "/x"]
)
def test_another_origin_changes_nothing(client, folder, origin):
    before = (folder / "survey.json").read_bytes()
    body = POST | {"base": revision(client)}
    refused = client.post("/api/changes", json=body, headers={"origin": origin})
    assert refused.status_code == 403
    assert (folder / "survey.json").read_bytes() == before
    assert client.get("/api/survey", headers={"origin": origin}).status_code == 403


def test_the_pages_own_origin_is_welcome(client):
    body = POST | {"base": revision(client)}
    assert client.post("/api/changes", json=body, headers={"origin": HOME}).status_code == 200


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_pages_of_other_sites_may_not_even_look(reader, site):
    for path in ("/api/survey", "/api/picture?view=sweep", "/static/x.js", "/"):
        assert reader.get(path, headers={"sec-fetch-site": site}).status_code == 403


def test_a_link_from_elsewhere_opens_the_page_only(client, monkeypatch, tmp_path):
    (tmp_path / "index.html").write_text("the page")
    monkeypatch.setattr("skyview.workbench.app.STATIC", tmp_path)
    link = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert client.get("/", headers=link).text == "the page"
    assert client.get("/api/survey", headers=link).status_code == 403


def test_a_cross_origin_preflight_gets_no_leave(reader):
    asked = reader.options(
        "/api/changes",
        headers={"origin": "http://evil.example", "access-control-request-method": "POST"},
    )
    assert asked.status_code == 403
    assert not any(name.startswith("access-control") for name in asked.headers)


@pytest.mark.parametrize("path", ["/api/state", "/api/nothing", "/api/pictures/x/0/0/0.jpg", "/x"])
def test_every_answer_carries_its_armour(reader, path):
    headers = reader.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cross-origin-resource-policy"] == "same-origin"


def test_survey_answers_are_not_kept_by_the_browser(reader):
    assert reader.get("/api/survey").headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "path",
    ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/....//app.py",
     "/static/%2e%2e%2f%2e%2e%2fcli/main.py", "/static//etc/passwd", "/static/..%5capp.py",
     "/static/%00", "/etc/passwd", "/../../etc/passwd"],
)  # fmt: skip
def test_no_path_leads_out_of_the_pages_files(reader, path):
    refused = reader.get(path)
    assert refused.status_code in (400, 404, 405)
    assert "import" not in refused.text
    assert "root:" not in refused.text


def shared(open_door, folder):
    keys = Keys()
    return keys, open_door(folder, Door(frozenset({HOST}), keys), cookies=None)


@pytest.fixture
def with_page(monkeypatch, tmp_path_factory):
    static = tmp_path_factory.mktemp("static")
    (static / "index.html").write_text("the page")
    monkeypatch.setattr("skyview.workbench.app.STATIC", static)


def test_a_shared_page_asks_for_a_key(open_door, folder, with_page):
    keys, client = shared(open_door, folder)
    for path in ("/", "/api/survey", "/static/app.js", "/api/openapi.json", "/api/events"):
        assert client.get(path).status_code == 401
    key = keys.new_key()
    assert client.get("/api/survey", params={"key": key}).status_code == 401
    entered = client.get("/", params={"key": key})
    assert entered.status_code == 200
    assert entered.text == "the page"
    cookie = entered.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert key not in cookie
    assert client.get("/api/survey").status_code == 200
    assert change(client, patch("obstructions", "oak", distance_m=31)).status_code == 200


def test_a_used_key_lets_nobody_in_again(open_door, folder, with_page):
    keys, client = shared(open_door, folder)
    key = keys.new_key()
    assert client.get("/", params={"key": key}).status_code == 200
    client.cookies.clear()
    assert client.get("/", params={"key": key}).status_code == 401


def test_wrong_keys_and_wrong_sessions_are_refused_and_counted(open_door, folder, with_page):
    keys, client = shared(open_door, folder)
    client.cookies.set(cookie_name(HOST), "guessed")
    assert client.get("/api/survey").status_code == 401
    assert client.get("/", headers={"cookie": "\x01;;;=;broken"}).status_code == 401
    for _ in range(MOST_WRONG):
        assert client.get("/", params={"key": "guess"}).status_code == 401
    assert client.get("/", params={"key": keys.new_key()}).status_code == 429


def test_a_body_that_says_it_is_too_large_is_not_read(reader):
    refused = reader.post(
        "/api/changes",
        content=b"{}",
        headers={"content-length": str(LARGEST_BODY + 1), "content-type": "application/json"},
    )
    assert refused.status_code == 413


def test_a_body_that_turns_out_too_large_is_cut_off(reader):
    sent = 0

    def flood():
        nonlocal sent
        for _ in range(200):
            sent += 1
            yield b" " * 100_000

    refused = reader.post(
        "/api/changes", content=flood(), headers={"content-type": "application/json"}
    )
    assert refused.status_code == 413
    assert "larger than 4 MB" in refused.json()["message"]


def test_a_long_address_is_refused(reader):
    assert reader.get("/api/angles", params={"view": "v" * 30_000}).status_code == 414


def test_deep_json_is_refused(reader):
    body = b'{"base": 1, "label": "x", "changes": ' + b"[" * 100_000 + b"]" * 100_000 + b"}"
    refused = reader.post(
        "/api/changes", content=body, headers={"content-type": "application/json"}
    )
    assert refused.status_code in (400, 422)


def test_websockets_are_turned_away(reader):
    with pytest.raises(WebSocketDisconnect) as caught, reader.websocket_connect("/api/events"):
        pass
    assert caught.value.code == 1008
