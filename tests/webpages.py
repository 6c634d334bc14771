"""What tests read from a page of the web app: its forms as a browser sends them, its undo, its marks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import html5lib
from starlette.testclient import TestClient
from webapp import token


def form_of(text: str, action: str) -> dict[str, str]:
    """What a browser sends of a form whose action ends so, as it stands on a page."""
    page = html5lib.parse(text, namespaceHTMLElements=False)
    form = next(each for each in page.iter("form") if str(each.get("action")).partition("#")[0].endswith(action))
    found: dict[str, str] = {}
    for each in form.iter():
        name = str(each.get("name", ""))
        if each.tag == "input" and each.get("type") in {"radio", "checkbox"}:
            found |= {name: str(each.get("value"))} if each.get("checked") is not None else {}
        elif each.tag == "input" and name and each.get("type") != "file":
            found[name] = str(each.get("value", ""))
        elif each.tag == "textarea":
            found[name] = each.text or ""
        elif each.tag == "select":
            options = list(each.iter("option"))
            chosen = [option for option in options if option.get("selected") is not None] or options[:1]
            found[name] = str(chosen[0].get("value", ""))
    return found


def undo_of(text: str) -> str:
    """Where the notice of a page leads to undo what was done."""
    page = html5lib.parse(text, namespaceHTMLElements=False)
    notice = next(each for each in page.iter("div") if each.get("id") == "notice")
    return next((str(each.get("action")) for each in notice.iter("form")), "")


def names_its_sentence(text: str, field: str) -> bool:
    """Whether a field says it is wrong, and names the sentence that says how."""
    page = html5lib.parse(text, namespaceHTMLElements=False)
    ids = {each.get("id") for each in page.iter() if "wrong" in str(each.get("class", "")) and each.get("id")}
    of_it = [each for each in page.iter() if each.get("name") == field and each.get("type") != "hidden"]
    marked = [each for each in of_it if each.get("aria-invalid") == "true"]
    return any(ids & set(str(each.get("aria-describedby", "")).split()) for each in marked)


def sent_form(client: TestClient, path: str, fields: Mapping[str, str]) -> Any:  # noqa: ANN401 - an answer
    """A form sent as our own pages send it."""
    return client.post(path, data={"token": token(client), **fields})
