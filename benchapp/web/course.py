"""The protocol in force, drawn from its table."""

from flask import Blueprint

views = Blueprint("course", __name__)
