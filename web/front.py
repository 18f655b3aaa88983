"""The first page, with the newest temperature in it.

The number stands on the screen before any script has come, which on a slow network is a second sooner. It is
grey, as every number is until the page itself hears the controller: it was true when the page was sent.
"""

from __future__ import annotations

from controller.live import Frame
from web.pages import page

LABEL = '<p class="label" id="air-label">Chamber air</p>'
NUMBER = '<p class="huge num" id="air" aria-labelledby="air-label air">–</p>'


def front_page(frame: Frame | None) -> str:
    """Return the first page's text; without a frame, or without a reading in it, there is no number."""
    text = page("index")
    air_c = frame["air"]["c"] if frame else None
    if air_c is None:
        return text
    digits = f"{air_c:.0f}"
    size = "huge four" if len(digits) > 3 else "huge"
    number = NUMBER.replace("huge", size).replace("–", digits)
    return text.replace(LABEL, LABEL.replace("air<", "air, °C<")).replace(NUMBER, number)
