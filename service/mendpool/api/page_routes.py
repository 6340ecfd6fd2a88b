"""The page in the hand as files: no token, no question to the database."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from mendpool.api.page_files import FRONT, MANIFEST, UNDER, WORKER, Page
from mendpool.api.problems import Refusal
from mendpool.api.replies import has_it, takes_gzip

router = APIRouter(include_in_schema=False)


@router.get(FRONT)
@router.get(WORKER)
@router.get(MANIFEST)
@router.get(UNDER + "{path:path}")
async def page_file(request: Request) -> Response:
    """Return a file of the page; `async`, for it waits for nothing."""
    page: Page = request.app.state.page
    file = page.files.get(request.scope["path"])
    if file is None:
        raise Refusal("not-found")
    # Kept by the browser, but asked about each time: a mended page is seen at once.
    headers = {"ETag": file.tag, "Cache-Control": "no-cache", "Vary": "Accept-Encoding"}
    if request.scope["path"] == WORKER:
        headers["Service-Worker-Allowed"] = "/"
    if has_it(request, file.tag):
        return Response(status_code=304, headers=headers)
    content = file.content
    if file.packed is not None and takes_gzip(request):
        content = file.packed
        headers["Content-Encoding"] = "gzip"
    return Response(content, headers=headers, media_type=file.kind)
