"""The day's list, marks to resolve, deviations to close."""

from flask import Blueprint

views = Blueprint("today", __name__)
