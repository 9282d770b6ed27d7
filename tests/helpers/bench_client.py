"""Short ways to ask the workbench in tests."""

from __future__ import annotations

from typing import Any

from starlette.testclient import TestClient

HOST = "127.0.0.1:8765"
HOME = f"http://{HOST}"


def revision(client: TestClient) -> int:
    """The revision now."""
    return int(client.get("/api/state").json()["revision"])


def change(client: TestClient, *changes: dict[str, Any], label: str = "a change") -> Any:
    """Make changes on the revision now."""
    body = {"base": revision(client), "label": label, "changes": list(changes)}
    return client.post("/api/changes", json=body)


def put(name: str, **item: Any) -> dict[str, Any]:
    return {"do": "put", "list": name, "item": item}


def patch(name: str, key: str, **fields: Any) -> dict[str, Any]:
    return {"do": "patch", "list": name, "id": key, "fields": fields}


def remove(name: str, key: str, with_users: bool = False) -> dict[str, Any]:
    return {"do": "remove", "list": name, "id": key, "with_users": with_users}
