"""Release of a jaw, what comes after it, and additions to its record."""

from flask import Blueprint

views = Blueprint("release", __name__)
