"""Words that pages show by themselves, handed to the scripts as data: no script holds a sentence.

Constants only: who renders a page hands them in by `core.words.for_scripts`, in the language in use.
"""

from typing import Any

from benchapp.core.words import N_, NN_

MARKS = {
    "unknown": N_("The protocol of this jaw does not know that entry."),
    "ended": N_("The jaw was through or scrapped already."),
    "round": N_("The jaw was sent back in the meantime."),
    "who": N_("That takes a supervisor."),
    "held": N_("The jaw is on hold."),
    "stated": N_("The time was stated, not recorded."),
    "step": N_("The jaw stands at another step."),
    "place": N_("Those places were not asked, or were done already."),
    "early": N_("Too early: a clock was still running."),
    "late": N_("Later than allowed."),
    "light": N_("After first light there is no way back."),
    "waits": N_("The case must not go on yet: its allergy is not decided, or it was cancelled."),
    "dark": N_("The chamber's door is open: the light is off."),
    "limit": N_("The value lies outside its limits."),
    "undo": N_("Only the last entry can be taken back, and only for a while."),
    "jaw": N_("The PC knows no jaw of that code."),
    "claimed": N_("The person had not signed in by PIN."),
    "tablet": N_("The entry names another tablet than the one that sent it."),
    "gone": N_("The person had left the lab, or their last day was over."),
    "unfit": N_("A lot or a device was picked that was not fit for use then, or two that do not go together."),
    "reason": N_("Reason given"),
}

STATUS = {
    "stored": N_("Stored on the PC"),
    "waiting": N_("Stored on this tablet ({n} waiting)"),
    "offline": N_("PC cannot be reached · stored on this tablet ({n} waiting)"),
    "idle": N_("PC cannot be reached · nothing waiting"),
    "marked": N_("{n} marked"),
    "foreign": N_("Not known to the PC · {n} waiting, kept · ask a supervisor"),
    "struck": N_("Tablet struck off · {n} waiting, kept · ask a supervisor"),
    "display": N_("Display, only shows · {n} waiting, kept · ask a supervisor"),
    "broken": N_("This tablet cannot store: {why}. Work on another tablet."),
    "reload": N_("Without the PC this page cannot be loaded again"),
    "sleeps": N_("The screen may go dark"),
}

READY: dict[str, Any] = {
    "is": N_("Ready offline: without the PC this tablet goes on."),
    "not": N_("Not ready offline. {why}"),
    "butCleared": N_("But the browser may clear what is kept when its room is short: see “This tablet”."),
    "secure": {
        "yes": N_("The address is secure, so that pages may be kept here."),
        "no": N_("The address is not secure, so nothing may be kept here. Open the https address that the PC names."),
    },
    "worker": {
        "yes": N_("The browser keeps pages here."),
        "no": N_("The browser keeps no pages here yet. Load this page once more."),
    },
    "files": {
        "yes": N_("All pages, scripts and drawings of this version are kept."),
        "no": N_("Something of this version is not kept yet. Load this page once more while the PC can be reached."),
    },
    "jaws": {
        "yes": N_("Every jaw in work that was opened here is kept."),
        "no": N_("The page of jaw {code} is not kept. Open it once while the PC can be reached."),
    },
    "kept": {
        "yes": N_("The browser has promised not to clear what is kept."),
        "no": N_("The browser may clear what is kept when its room is short. Install the app on the tablet, then ask."),
    },
}

CAMERA = {
    "hold": N_("Hold a label here"),
    "took": N_("Read"),
    "rests": N_("No label for two minutes: the camera rests. Tap Camera to wake it."),
    "refused": N_("The camera was not allowed. Allow it for this page in the settings of the browser or the tablet."),
    "none": N_("There is no camera here."),
    "busy": N_("The camera does not start: something else may use it. Close that, and tap Camera again."),
    "insecure": N_("The camera works only at the lab's own https address."),
    "old": N_("This browser is too old for the camera."),
    "lost": N_("The camera stopped. Tap Camera to start it again."),
    "noReader": N_("What reads codes did not come from the PC. Once it came, it stays on this tablet."),
    "instead": N_("A scanner, typing and tiles work as always."),
    "other": N_("Other camera"),
    "close": N_("Close camera"),
}

HOME_WORDS: dict[str, Any] = {
    "camera": CAMERA,
    "status": STATUS,
    "nobody": N_("Nobody is signed in"),
    "signIn": N_("Sign in"),
    "unreachable": N_("The PC cannot be reached. A PIN needs the PC."),
    "badgeUnreachable": N_("The PC cannot be reached. A badge needs the PC."),
    "badgeBad": N_("That is not the code of a badge: ten characters, the first one P."),
    "badgeNotHere": N_("This asks for tile and PIN."),
    "signedOut": {  # by the PC's reasons, see `actions/leaving.py`
        "left": N_("{name} has left the lab, and was signed out here. Whoever works on signs in."),
        "day": N_("{name}'s last day is over: signed out here. A supervisor can set another one at the desk."),
        "new-pin": N_("{name} has a new PIN, and was signed out here. Sign in with the new one."),
        "badge-off": N_("{name}'s badge was replaced or struck off: signed out here. Sign in anew."),
    },
    "rings": N_("{code}: {step} since {clock}"),
    "inTheWay": N_("{step} ({code}) falls due at {clock}, within the wet window of about {minutes} min. "
                "Begin at {safe}, or hand it over first."),
    "handed": N_("Handed to {name}."),
    "andMore": N_("and {n} more"),
    "noVoice": N_("No voice on this tablet reads the language of this page without the network. "
                  "Add one in the tablet's settings, or go on reading yourself."),
    "badcode": N_("That is not a code of ours: ten characters, as on the label."),
}

BENCH_WORDS = HOME_WORDS | {
    "marks": MARKS,
    "refused": N_("Not taken. {why}"),
    "taken": N_("Taken, and marked: {why}"),
    "placesCount": NN_("{n} place", "{n} places"),
    "cells": {"open": N_("asked"), "done": N_("done"), "wait": N_("waits for another step")},
    "held": N_("On hold"),
    "resume": N_("Go on with this jaw"),
    "through": N_("This jaw is through and packed"),
    "scrapped": N_("This jaw is scrapped"),
    "ended": N_("Nothing more to do here"),
    "left": N_("left"),
    "over": N_("over"),
    "up": N_("time is up"),
    "until": N_("until {clock}"),
    "since": N_("since {clock}"),
    "late": N_("{minutes} min ago, at {clock}"),
    "now": N_("now, at {clock}"),
    "nobodyTitle": N_("Who is working?"),
    "claim": N_("Go on as {name} without PIN; a PIN will be asked for later"),
    "unfitTitle": N_("Not fit for use"),
    "unfitWhat": N_("{name}: {why}"),
    "unfitDo": N_("Put it aside and pick or scan another one. If there is none: hold the jaw and ask a supervisor."),
    "clashTitle": N_("These two do not go together"),
    "clashDo": N_("{name} is picked now; pick or scan another one for: {title}."),
    "pickFirst": N_("Pick first: {title}"),
    "notNumber": N_("Not a number. Write it like 1000 or 0.25."),
    "lastCounts": N_("Until then {value} counts."),
    "mendFirst": N_("Mend the number first: {title}"),
    "storedInstead": N_("{title}: no number was written, so {value} was stored."),
    "explain": N_("Explain what was out of the ordinary: {what}"),
}

LOAD_WORDS = {
    "scan": N_("Scan each jaw that goes into this run, then start them together."),
    "empty": N_("No jaw in this load yet"),
    "count": NN_("{n} jaw", "{n} jaws together"),
    "fresh": N_("Next load"),
    "out": N_("Out of the chamber. Each jaw goes on by its own page."),
    "others": N_("A jaw stands at another step: take it out first"),
    "stands": N_("stands at “{step}”"),
    "ended": N_("the end"),
    "dark": N_("The door is open: say first that the light is on again"),
    "stopped": N_("stopped"),
    "refused": N_("Not taken for any jaw. {code}: {why}"),
    "rings": N_("Time is up for {n}: {step}, since {clock}"),
    "unknown": N_("The PC cannot be reached, and this tablet does not know that jaw yet."),
    "notyet": N_("{code} stands at “{step}”, not at the chamber. It stays out of this load."),
    "held": N_("{code} is on hold. It stays out of this load."),
    "another": N_("{code} stands at another side than this load. Put it into a load of its own."),
}
