"""The set-up page of an empty data folder, for the PC itself only."""

from flask import Blueprint

views = Blueprint("setup", __name__)
