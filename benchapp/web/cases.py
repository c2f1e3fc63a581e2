"""All cases: search, a new one by form or from a list of orders, corrections, cancelling."""

from flask import Blueprint

views = Blueprint("cases", __name__)
