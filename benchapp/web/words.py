"""Words that pages show by themselves, handed to the scripts as data: no script holds a sentence."""

MARKS = {
    "unknown": "The protocol of this jaw does not know that entry.",
    "ended": "The jaw was through or scrapped already.",
    "round": "The jaw was sent back in the meantime.",
    "who": "That takes a supervisor.",
    "held": "The jaw is on hold.",
    "stated": "The time was stated, not recorded.",
    "step": "The jaw stands at another step.",
    "place": "Those places were not asked, or were done already.",
    "early": "Too early: a clock was still running.",
    "late": "Later than allowed.",
    "light": "After first light there is no way back.",
    "limit": "The value lies outside its limits.",
    "undo": "Only the last entry can be taken back, and only for a while.",
    "jaw": "The PC knows no jaw of that code.",
    "claimed": "The person had not signed in by PIN.",
    "tablet": "The entry names another tablet than the one that sent it.",
    "reason": "Reason given",
}

STATUS = {
    "stored": "Stored on the PC",
    "waiting": "Stored on this tablet ({n} waiting)",
    "offline": "PC cannot be reached · stored on this tablet ({n} waiting)",
    "idle": "PC cannot be reached · nothing waiting",
    "marked": "{n} marked",
    "foreign": "The PC does not know this tablet · {n} waiting. Open the first page again.",
    "broken": "This tablet cannot store: {why}. Work on another tablet.",
    "reload": "Without the PC this page cannot be loaded again",
}

HOME_WORDS = {
    "status": STATUS,
    "nobody": "Nobody is signed in",
    "unreachable": "The PC cannot be reached. A PIN needs the PC.",
    "rings": "{code}: {step} since {clock}",
    "badcode": "That is not a code of ours: ten characters, as on the label.",
}

BENCH_WORDS = HOME_WORDS | {
    "marks": MARKS,
    "refused": "Not taken. {why}",
    "taken": "Taken, and marked: {why}",
    "placesCount": {"one": "{n} place", "many": "{n} places"},
    "cells": {"open": "asked", "done": "done", "wait": "waits for another step"},
    "held": "On hold",
    "resume": "Go on with this jaw",
    "through": "This jaw is through and packed",
    "scrapped": "This jaw is scrapped",
    "ended": "Nothing more to do here",
    "left": "left",
    "over": "over",
    "up": "time is up",
    "until": "until {clock}",
    "since": "since {clock}",
    "late": "{minutes} min ago, at {clock}",
    "now": "now, at {clock}",
    "nobodyTitle": "Who is working?",
    "claim": "Go on as {name} without PIN; a PIN will be asked for later",
    "wrongLabel": "This label is not of this jaw",
    "wrongLabelDo": "{code} does not belong here. Put the part aside and read the tag of the right one.",
    "pickFirst": "Pick first: {title}",
    "explain": "Explain what was out of the ordinary: {what}",
}
