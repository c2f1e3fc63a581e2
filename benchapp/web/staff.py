"""People of the lab: roles, PINs, badges, leavers; settings that a rule depends on."""

from flask import Blueprint

views = Blueprint("staff", __name__)
