"""Pages of a few words, and the look that they share with the lobby."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from scenariokit.language import language

STYLE = """
:root { color-scheme: light; --ink: #1d2b2a; --leaf: #0b5d63; --paper: #fbfaf6; --line: #b9c4bf; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 1.05rem/1.55 system-ui, "Segoe UI", "Noto Sans", sans-serif; }
main, header, footer { max-width: 60rem; margin: 0 auto; padding: 0 1rem; }
header { padding-top: 1.2rem; } footer { padding-bottom: 2rem; }
h1 { font-size: 1.7rem; line-height: 1.25; margin: 0.2em 0; }
h2 { font-size: 1.25rem; margin: 1.6em 0 0.4em; }
p { margin: 0.5em 0; max-width: 40rem; overflow-wrap: break-word; }
a { color: var(--leaf); }
.offers { list-style: none; padding: 0; margin: 0; display: grid; gap: 0.9rem;
  grid-template-columns: repeat(auto-fit, minmax(min(17rem, 100%), 1fr)); }
.offers li { border: 1px solid var(--line); border-radius: 0.5rem; padding: 0.8rem 1rem; background: #fff;
  display: flex; flex-direction: column; justify-content: space-between; }
.offers h3 { margin: 0; font-size: 1.15rem; }
button, .button { display: inline-block; min-height: 2.75rem; padding: 0.5rem 1.1rem; border: 0;
  border-radius: 0.4rem; background: var(--leaf); color: #fff; font: inherit; font-weight: 600;
  text-decoration: none; cursor: pointer; }
button:hover, .button:hover { background: #08484d; }
:focus-visible { outline: 3px solid #b35c00; outline-offset: 2px; }
select { font: inherit; min-height: 2.75rem; padding: 0.3rem 0.5rem; border: 1px solid #5b6a66; background: #fff; }
.full { border-left: 0.4rem solid #b35c00; padding: 0.3rem 0 0.3rem 0.8rem; }
.code svg { width: min(15rem, 80vw); height: auto; background: #fff; display: block; }
.address { font-family: ui-monospace, Consolas, monospace; overflow-wrap: anywhere; font-size: 1.1rem; }
"""


def page(title: str, body: str, refresh_seconds: int = 0) -> str:
    """Return a whole page.

    Parameters
    ----------
    title : str
        Text of its title.
    body : str
        HTML of all that is in it.
    refresh_seconds : int
        After how long the browser asks again; 0 for never.
    """
    again = f'<meta http-equiv="refresh" content="{refresh_seconds}">' if refresh_seconds else ""
    code = escape(language().replace("_", "-"))
    return (
        f'<!DOCTYPE html>\n<html lang="{code}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<title>{escape(title)}</title>\n{again}<link rel="icon" href="data:,">\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def plain_page(title: str, texts: Sequence[str], refresh_seconds: int = 0) -> str:
    """Return a page of a heading and a few sentences."""
    lines = "".join(f"<p>{escape(text)}</p>" for text in texts)
    return page(title, f"<main><h1>{escape(title)}</h1>{lines}</main>", refresh_seconds)
