"""A part or a jaw is scrapped and made again."""

from flask import Blueprint

views = Blueprint("remake", __name__)
