"""This tablet: what a technician sets up and tries on the tablet itself. All of it stays there, nothing is sent."""

from typing import Any

from flask import Blueprint, Response, make_response, render_template

from benchapp.core.words import N_, NN_, for_scripts
from benchapp.web.tablets import welcome
from benchapp.web.words import HOME_WORDS, READY

views = Blueprint("this_tablet", __name__)

# Names of keys as they stand on keyboards; every other key is called as the browser calls it.
KEYS = {
    "PageDown": N_("Page Down"), "PageUp": N_("Page Up"), "ArrowDown": N_("arrow down"), "ArrowUp": N_("arrow up"),
    "ArrowLeft": N_("arrow left"), "ArrowRight": N_("arrow right"),
}
PEDAL_WORDS = {
    "keys": KEYS,
    "is": N_("The foot switch is the key “{key}”."),
    "press": N_("Step on the foot switch now. Esc leaves everything as it was."),
    "learned": N_("Taken: “{key}” is the foot switch from now on."),
    "left": N_("Nothing was changed."),
    "heard": NN_("Heard once.", "Heard {n} times."),
    "own": N_("That key presses, leaves or erases something by itself, on every page. "
              "Set the foot switch to another key, such as Page Down or F8."),
    "typed": N_("That key writes numbers and codes. Set the foot switch to another key, such as Page Down or F8."),
    "combined": N_("Those are two keys at once. Set the foot switch to a single key, such as Page Down or F8."),
}
TABLET_WORDS: dict[str, Any] = HOME_WORDS | {
    "pedal": PEDAL_WORDS,
    "ready": READY,
    "rang": N_("It rang. If you heard nothing, turn the tablet's volume up and its mute off."),
    "noSound": N_("This browser makes no sound. An alarm can only be seen here."),
    "read": N_("Read by the voice “{name}”. If you heard nothing, turn the tablet's volume up."),
    "sample": N_("This is how the steps are read."),
    "sawCode": N_("That is a code of ours, and it was read."),
    "sawOther": N_("Something was read, but it is no code of ours: ten characters, as on a label."),
    "awake": N_("While a step or a clock runs, the screen stays on. Where it may not, the line at the top says so."),
    "dark": N_("This browser cannot keep the screen on. Set the tablet itself to stay on for half an hour or more."),
}


@views.get("/tablet")
def page() -> Response:
    """Show what this tablet is set to: foot switch, hand, sound, voice, and whether it is ready without the PC."""
    shown = render_template("tablet/tablet.html", words=for_scripts(TABLET_WORDS))
    return welcome(make_response(shown))
