"""A form that the store could not take: what was typed comes back as a form that can be sent again, for every page.

One place for all forms, so that no view can forget it; it asks the store for nothing, which has just failed.
"""

from flask import render_template, request

from benchapp.core.words import N_, _

FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")
SECRET = {"pin": N_("PIN"), "again": N_("The same PIN again"), "badge": N_("Badge")}
"""Fields that are never sent back to a page, with what they are called there."""


def form_again(error: str) -> str:
    """Return a page with what was typed in the form of this request, be it a button alone, or "" where none was sent.

    The form goes to the same address with every field in its order. PIN and badge are asked for once more, and
    so are files, which a page cannot fill in.
    """
    if request.method != "POST" or request.mimetype not in FORMS:
        return ""
    fields = [(name, value) for name, value in request.form.items(multi=True) if name not in SECRET]
    return render_template(
        "desk/again.html", error=error, fields=fields, address=request.full_path.rstrip("?"), files=list(request.files),
        secrets=[(name, _(label)) for name, label in SECRET.items() if name in request.form],
        typed=[(name.replace("_", " ").replace("-", " "), value) for name, value in fields if value.strip()],
    )
