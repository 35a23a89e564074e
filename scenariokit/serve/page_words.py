"""What the frame of a page says, in words."""

from __future__ import annotations

from scenariokit.language import tr


def page_words() -> dict[str, str]:
    """Return each text that the frame may show, in the language in use."""
    return {
        "making": tr("Your page is being made …"),
        "place": tr("Your page is being made. You are number {place} in the row.", place="%n"),
        "lost": tr(
            "The connection is lost; trying again. What you see stays, but nothing changes until it is back."
        ),
        "gone": tr(
            "The server has not answered for a while. Is this device still in the network? What you see stays on the page. Loading the page again begins anew."
        ),
        "stuck": tr(
            "The connection to your board did not come back. Loading the page again begins anew."
        ),
        "stopping": tr("The server is stopping. Save your board now."),
        "stopped": tr("The server has stopped. What you see stays on the page."),
        "back": tr("The server is back. Load the page again to go on."),
        "died": tr("Your board ended by a fault. Load the page again to go on."),
        "memory": tr(
            "Your board took more memory than one board may, so it was ended. Load the page again to go on, perhaps with smaller files."
        ),
        "idle": tr(
            "Your board was not used for long, so it was ended. Load the page again to go on."
        ),
        "away": tr(
            "Your board was out of reach for long, so it was ended. Load the page again to go on."
        ),
        "left": tr("This board has ended. Load the page again to go on."),
        "large": tr("That was too large to send. At most 5 MB are taken at one time."),
        "failed": tr("Your page could not be made. Load the page again in a moment."),
        "reload": tr("Load the page again"),
        "script": tr("This page needs JavaScript. Please switch it on."),
    }
