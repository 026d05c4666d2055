"""Pages made from templates, and the files they ask for: how they are sent, one fingerprint over them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.staticfiles import NotModifiedResponse, StaticFiles
from starlette.types import Scope

from linemap.answers.line import Waiting
from linemap.domain.record.person import Person
from linemap.report.map_page import DARK_MEDIA
from linemap.report.page_files import style_sheet
from linemap.web.cache import PERSON
from linemap.web.permission import PERMISSIONS, Permissions

#: The page's modules and style sheets.
STATIC = Path(str(files("linemap.web") / "static"))
#: What pages take from others and no package brings; README.md there says how it is made.
VENDOR = STATIC.parent / "vendor"
#: Leaflet as its package ships it.
LEAFLET = Path(str(files("js_lib_leaflet") / "static" / "js_lib_leaflet"))


class PageFiles(StaticFiles):
    """The page's own files; a style sheet is sent with its parts in it, as one answer read at the start."""

    def __init__(self) -> None:
        super().__init__(directory=STATIC)
        self._sheets = {f"css/{path.name}": style_sheet(path.name) for path in (STATIC / "css").glob("*.css")}

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with the file, or with nothing when the caller has it."""
        sheet = self._sheets.get(Path(path).as_posix())
        if sheet is None or scope["method"] not in ("GET", "HEAD"):
            return await super().get_response(path, scope)
        tag = hashlib.sha256(sheet.encode()).hexdigest()
        answer = Response(sheet, media_type="text/css", headers={"etag": f'"{tag[:32]}"'})
        if self.is_not_modified(answer.headers, Headers(scope=scope)):
            return NotModifiedResponse(answer.headers)
        return answer


@cache
def asset_version() -> str:
    """Return a short fingerprint of all files of the page as the process found them first."""
    digest = hashlib.sha256()
    kept = (path for folder in (STATIC, VENDOR) for path in folder.rglob("*") if path.is_file())
    for path in sorted(kept):
        digest.update(path.relative_to(STATIC.parent).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


@cache
def page_templates() -> Environment:
    """Return the templates of the pages; a value they do not get is an error."""
    folder = str(files("linemap.web") / "templates")
    return Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined)


def render_page(
    request: Request, template: str, *, title: str, waits: Sequence[Waiting] = (), **more: object
) -> HTMLResponse:
    """Answer with a page of the application, its title escaped by the template, which takes `more`.

    `waits` stands on top of the page: what is not loaded or declared yet.
    """
    state = request.app.state
    html = state.templates.get_template(template).render(
        title=title,
        job=state.identity,
        version=state.asset_version,
        dark_media=DARK_MEDIA,
        waits=waits,
        here=request.url.path,
        ways=ways_of(request.scope.get(PERSON)) if state.identity else [],
        **more,
    )
    return HTMLResponse(html, headers={"cache-control": "no-cache"})


def refused_page(request: Request, status: int, words: str) -> HTMLResponse:
    """Answer with a page that says why something cannot be shown, and leads to what can."""
    page = render_page(request, "refused.html", title="linemap", words=words)
    page.status_code = status
    page.headers["cache-control"] = "no-store"
    return page


#: The job's pages: path and words.
_WAYS = {
    "/": "Map",
    "/survey": "Survey",
    "/progress": "Progress",
    "/files": "Files",
    "/exports": "Exports",
    "/settings": "Settings",
    "/people": "People",
}


def ways_of(asking: Person | None) -> list[tuple[str, str]]:
    """Return path and words of the pages somebody may open."""
    if asking is None:
        return []
    return [
        (path, words) for path, words in _WAYS.items() if Permissions.allows(PERMISSIONS[path]["GET"], asking)
    ]


class Script(Response):
    """A script made for a page."""

    media_type = "text/javascript"


def download(content: bytes, media_type: str, name: str, *, shown: bool = False) -> Response:
    """Send a file under a name, to be saved; or shown, where the browser can."""
    how = "inline" if shown else "attachment"
    headers = {
        "content-disposition": f"{how}; filename*=UTF-8''{quote(name, safe='')}",
        "cache-control": "private, no-cache",
    }
    return Response(content, media_type=media_type, headers=headers)
