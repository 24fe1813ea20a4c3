"""What strangers get: the door, a page that asks for a code or tells how to get a link, and what it is made of."""

from pathlib import Path

from starlette.responses import FileResponse, JSONResponse, Response

PATHS = ("/", "/enter")  # the page itself for those who are in, the door for those who are not
FILES = "/door/"
MARK = "/icon.svg"
PAGE = "door.html"
NO_PAGE = "The page has not been built; run python3 run.py demo, or python dashboard/build_page.py. The API works."


class Door:
    """`static`: the folder of the built page."""

    def __init__(self, static: Path) -> None:
        self._static = static
        folder = static / FILES.strip("/")
        self._files = {f"{FILES}{each.name}": each for each in folder.glob("*") if each.is_file()}
        if (static / MARK[1:]).is_file():
            self._files[MARK] = static / MARK[1:]

    def answer(self, path: str) -> Response | None:
        """What is at this path for a stranger; None: nothing. Only names that were there at the start are known."""
        if path in PATHS:
            return self.page()
        file = self._files.get(path)
        return None if file is None else FileResponse(file, headers={"cache-control": "no-cache"})

    def page(self) -> Response:
        """The door itself; never kept by a browser, as it stands where the page will be."""
        page = self._static / PAGE
        if not page.is_file():
            return JSONResponse({"detail": NO_PAGE}, 503)
        return FileResponse(page, headers={"cache-control": "no-store", "vary": "cookie"})
