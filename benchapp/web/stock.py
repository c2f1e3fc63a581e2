"""Materials and devices of the lab: lists, their dates, blocking."""

from flask import Blueprint

views = Blueprint("stock", __name__)
