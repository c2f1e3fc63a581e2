"""Where templates, static files and demo cases are: beside the package in a checkout, inside it in a wheel."""

from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE if (HERE / "static").is_dir() else HERE.parent

STATIC = ROOT / "static"
TEMPLATES = ROOT / "templates"
DEMO_CASES = ROOT / "demo_cases"
PROTOCOLS = HERE / "protocols"
FONTS = STATIC / "fonts"
