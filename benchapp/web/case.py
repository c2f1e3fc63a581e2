"""One case: its line of events, exceptions first; pair check."""

from flask import Blueprint

views = Blueprint("case", __name__)
