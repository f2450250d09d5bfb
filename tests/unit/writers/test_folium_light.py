from __future__ import annotations

import subprocess
import sys

import jinja2
import pytest

from travel.writers.folium_light import _later

_DRAW = """
import re, sys
{load}
drawn = folium.Map(location=[50, 10], tiles=None)
group = folium.FeatureGroup(name="Group").add_to(drawn)
shape = {{"type": "Feature", "properties": {{"style": "a"}}, "geometry": {{"type": "Point", "coordinates": [10, 50]}}}}
data = {{"type": "FeatureCollection", "features": [shape]}}
folium.GeoJson(data, style_function=lambda f: {{"color": "#123456"}}, marker=folium.CircleMarker()).add_to(group)
folium.raster_layers.ImageOverlay(image="data:image/png;base64,AA", bounds=[[49, 9], [51, 11]]).add_to(drawn)
folium.Marker([50, 10], popup="Said", icon=folium.Icon(color="red")).add_to(drawn)
folium.LayerControl().add_to(drawn)
seen = {{}}
page = drawn.get_root().render()
print(re.sub("[0-9a-f]{{32}}", lambda found: str(seen.setdefault(found[0], len(seen))), page))
{ask}
"""
_LIGHT = "from travel.writers.folium_light import load_folium\nfolium = load_folium()"
_ASK = """
import jinja2, folium.features
assert not {"pandas", "requests", "urllib3"} & set(sys.modules), "loaded what is not needed"
assert type(jinja2.Template("{{ 1 + 1 }}")) is jinja2.Template and jinja2.Template("{{ 1 + 1 }}").render() == "2"
import requests
assert folium.features.requests.get is requests.get
"""


def _said(load: str, ask: str = "") -> str:
    code = _DRAW.format(load=load, ask=ask)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_light_folium_draws_what_folium_draws_and_leaves_nothing_changed() -> None:
    plain = _said("import folium")
    assert all(word in plain for word in ("CircleMarker", "imageOverlay", "Said", "#123456"))
    assert _said(_LIGHT, _ASK) == plain


@pytest.mark.parametrize(
    "text",
    ["", "\n", "a", "a\n", "a\n\n", "a\r\nb\r\n", "a\rb\r", "{ {a: {b: 1}} }}", "%} #}", "{{ 1 + 1 }}\n", "{# none #}x",
     "{% if x %}y{% endif %}", "{{x}}}", "\u2028\u00e9\x0c\n"],
)  # fmt: skip
def test_a_text_with_nothing_for_jinja_is_drawn_as_jinja_draws_it(text: str) -> None:
    assert _later(jinja2.Template)(text).render(x=2) == jinja2.Template(text).render(x=2)
