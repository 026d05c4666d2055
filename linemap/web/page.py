"""Pages made from templates: every value escaped, nothing inline, addresses with the assets' version."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from linemap.report.map_page import DARK_MEDIA

__all__ = ["page_templates", "render_page"]


def page_templates() -> Environment:
    """Return the templates of the pages; a value they do not get is an error."""
    folder = str(files("linemap.web") / "templates")
    return Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined)


def render_page(request: Request, template: str, *, title: str) -> HTMLResponse:
    """Answer with a page of the application.

    Parameters
    ----------
    request : Request
        Of an application whose state holds `templates`, `identity` and `asset_version`.
    template : str
        File name in the folder of templates.
    title : str
        Name of the job; any text, escaped by the template.
    """
    state = request.app.state
    html = state.templates.get_template(template).render(
        title=title, job=state.identity, version=state.asset_version, dark_media=DARK_MEDIA
    )
    return HTMLResponse(html, headers={"cache-control": "no-cache"})
