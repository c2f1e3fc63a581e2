"""Loads: several jaws in one chamber run, worked together."""

from flask import Blueprint

views = Blueprint("chamber", __name__)
