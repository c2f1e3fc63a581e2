"""A protocol for tests, as small as one with everything can be."""

# Three cards, one of them a repair, with a clock, a value and a pick: as small as a file with everything can be.
SMALL = """
format = 1
id = "small"
edition = "1"
title = "Small"
jaws = ["upper"]
options = ["extra"]
undo = { minutes = 10, light_seconds = 10, source = "lab" }
sources = [{ id = "lab", kind = "lab", title = "Rule of this laboratory" }]
cautions = [{ id = "resin", title = "Resin", words = "Gloves." }]
stages = [{ id = "work", title = "Work" }]
reasons = [{ id = "other", title = "Other", asked = ["breach", "hold", "send-back", "stated", "scrap"] }]
[[steps]]
id = "wet"
stage = "work"
title = "Wet"
words = "Wet it."
picture = "fill"
cautions = ["resin"]
wet = true
minutes = { is = 1, source = "lab" }
places = ["connector"]
by = "sextant"
outcomes = [{ id = "wetted", title = "Wet", said = "wet", of = "each" }]
[[steps]]
id = "lit"
stage = "work"
title = "Light"
words = "Light it."
picture = "tack"
irreversible = true
minutes = { is = 1, source = "lab" }
ceilings = [{ since = "wet", minutes = 20, seconds = 5, grace = 30, breach = "deviation", source = "lab" }]
values = [{ name = "count", title = "Count", unit = "", usual = 8, min = 6, max = 20.5, step = 1, source = "lab" }]
picks = [{ name = "lamp", title = "Lamp", of = "device", kind = "lamp" }]
outcomes = [
  { id = "lighted", title = "Lit", said = "lit" },
  { id = "off", title = "Off", said = "off", leads = "hold" },
]
[[steps]]
id = "mend"
stage = "work"
title = "Mend"
words = "Mend it."
picture = "repair"
minutes = { is = 1, source = "lab" }
places = ["connector"]
called = true
floors = [{ since = "lit", minutes = 1, breach = "stop", source = "lab" }]
outcomes = [{ id = "mended", title = "Mended", said = "mended", of = "each" }]
[[steps]]
id = "look"
stage = "work"
title = "Look"
words = "Look at it."
picture = "final-check"
option = "extra"
minutes = { is = 1, source = "lab" }
places = ["connector"]
outcomes = [
  { id = "fine", title = "Fine", said = "fine", of = "each" },
  { id = "bad", title = "Bad", said = "bad", of = "place", leads = "opens", to = "mend" },
]
"""
