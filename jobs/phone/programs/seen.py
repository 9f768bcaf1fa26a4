"""Reads every template, fills one with a value of each kind, and says which files that took.

python -I seen.py FOLDER CODE
"""

import sys
from pathlib import Path

folder, code = Path(sys.argv[1]), sys.argv[2]
sys.path.insert(0, code)

from django.template import Context  # noqa: E402

from jobs.phone.engine import TEMPLATES, engine_of  # noqa: E402

engine = engine_of(folder)
for path in sorted((folder / TEMPLATES).rglob("*.html")):
    engine.get_template(path.relative_to(folder / TEMPLATES).as_posix())
filled = engine.from_string(
    "{% load look %}{% csrf_token %}{% for x in rows %}{{ forloop.counter }}{{ x }}{{ x|number }}"
    "{% if x and not text %}{{ x|stringformat:'s' }}{% endif %}{% endfor %}{{ text|default:3 }}"
)
filled.render(Context({"text": "<", "rows": [1, 2.5, None, "<", True]}))
for module in list(sys.modules.values()):
    if file := getattr(module, "__file__", None):
        print(file)
