import pytest
from starlette.testclient import TestClient

from linemap.report.page_files import style_sheet
from linemap.web.page import STATIC


@pytest.mark.parametrize("name", sorted(path.name for path in (STATIC / "css").glob("*.css")))
def test_a_style_sheet_is_one_answer(client: TestClient, name: str) -> None:
    answer = client.get(f"/static/css/{name}?v=1")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/css; charset=utf-8"
    assert answer.text == style_sheet(name)
    again = client.get(f"/static/css/{name}", headers={"if-none-match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_style_sheet_that_the_caller_has_in_an_older_form_is_sent_anew(client: TestClient) -> None:
    answer = client.get("/static/css/field.css", headers={"if-none-match": '"older"'})
    assert (answer.status_code, answer.text) == (200, style_sheet("field.css"))


def test_scripts_and_parts_are_sent_as_they_lie_there(client: TestClient) -> None:
    for name in ("js/shared/html.js", "css/field/card.css"):
        answer = client.get(f"/static/{name}")
        assert (answer.status_code, answer.content) == (200, (STATIC / name).read_bytes())


def test_only_reading_is_served(client: TestClient) -> None:
    headers = {"sec-fetch-site": "same-origin"}
    assert client.head("/static/css/map.css").headers["content-length"] == str(
        len(style_sheet("map.css").encode())
    )
    assert client.post("/static/css/map.css", headers=headers).status_code == 405
    assert client.get("/static/css/none.css").status_code == 404
