"""Evaluate a model on labelled pictures and write a report.

    python training/evaluate.py --model models/NAME --labels FOLDER… --out REPORT

REPORT gets report.html (one self-contained file), fields.csv, summary.json and the pictures: found against true
fractions, reliability diagram, confusion, and the worst ten fields with true and found outlines.
"""

import argparse
import base64
import json
import sys
from pathlib import Path

import cv2
import jinja2
import numpy as np
from curves import draw_fractions, draw_reliability
from evaluation import STATES, Evaluation, KnownField, evaluate, known_from_labels, model_predictor

from semwear.errors import SemwearError
from semwear.labels import read_labels
from semwear.model import load_model
from semwear.score import working_pixel_size

PAGE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Evaluation of {{ model }}</title>
<style>body{font:15px/1.5 sans-serif;max-width:70em;margin:2em auto;padding:0 1em;color:#222}table{border-collapse:collapse}
td,th{border-bottom:1px solid #ccc;padding:.2em .8em;text-align:right}th:first-child,td:first-child{text-align:left}
img{max-width:100%}figure{margin:1em 0}figcaption{color:#555}</style>
<h1>Evaluation of the model {{ model }}</h1><p>{{ fields }} fields from {{ folders }}. Weights {{ sha[:12] }}….</p>
<h2>Figures</h2><table>{% for name, value in summary.items() %}<tr><td>{{ name.replace('_', ' ') }}</td><td>{{ value }}</td></tr>
{% endfor %}</table>
{% for title, rows in groups.items() %}<h2>{{ title }}</h2><table><tr><th></th>{% for key in columns %}<th>{{ key.replace('_', ' ') }}</th>{% endfor %}</tr>
{% for name, row in rows.items() %}<tr><td>{{ name }}</td>{% for key in columns %}<td>{{ row[key] if row[key] is not none else '–' }}</td>{% endfor %}</tr>{% endfor %}</table>{% endfor %}
<h2>Confusion (share of the true state's pixels)</h2><table><tr><th>true \\ found</th>{% for s in states %}<th>{{ s }}</th>{% endfor %}</tr>
{% for s, row in confusion %}<tr><td>{{ s }}</td>{% for v in row %}<td>{{ '%.3f' % v }}</td>{% endfor %}</tr>{% endfor %}</table>
{% for caption, data in pictures %}<figure><img src="data:image/png;base64,{{ data }}" alt="{{ caption }}"><figcaption>{{ caption }}</figcaption></figure>{% endfor %}
</html>"""
# Blue, orange and purple stay apart for the common kinds of colour blindness (Okabe and Ito, 2008).
OUTLINES_BGR = {1: (178, 114, 0), 2: (0, 159, 230), 3: (85, 34, 136)}


def pair_picture(known: KnownField, codes: np.ndarray) -> np.ndarray:
    """The field with the true outlines (left) and the found ones (right), (rows, 2·cols, 3) uint8."""
    grey = np.clip(known.prepared.raw * 255, 0, 255).astype(np.uint8)
    sides = []
    for states in (known.codes, codes):
        picture = cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR)
        for state, colour in OUTLINES_BGR.items():
            outlines, _ = cv2.findContours((states == state).astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
            cv2.drawContours(picture, outlines, -1, colour, max(1, grey.shape[1] // 640))
        sides.append(picture)
    joined = np.concatenate(sides, 1)
    scale = min(1.0, 1500 / joined.shape[1])
    return cv2.resize(joined, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)


def write_report(result: Evaluation, fields: list[KnownField], model, folders: list[str], out: Path) -> dict:
    out.mkdir(parents=True, exist_ok=True)
    result.table.to_csv(out / "fields.csv", index=False)
    summary = result.summary()
    sizes_um = model.card["working_pixel_sizes_um"]
    groups = {
        "By specimen or family": result.by(lambda row: row["group"]),
        "By working pixel size": result.by(lambda row: f"{working_pixel_size(row['pixel_size_um'], sizes_um):g} µm"),
    }
    (out / "summary.json").write_text(json.dumps({"all": summary} | groups, indent=1, ensure_ascii=False), "utf-8")
    draw_fractions(result, out / "fractions.png")
    draw_reliability(result, out / "reliability.png")
    pictures = [
        ("Found against true fractions with their 95 % intervals.", out / "fractions.png"),
        ("Stated confidence against the share of pixels that are right.", out / "reliability.png"),
    ]
    worst = result.table.assign(sum=sum(result.table[f"{state}_error"].abs() for state in STATES[1:]))
    by_name = {known.name: known for known in fields}
    for place, name in enumerate(worst.sort_values("sum", ascending=False)["file"][:10], 1):
        path = out / f"worst_{place:02d}.png"
        cv2.imencode(".png", pair_picture(by_name[name], result.codes[name]))[1].tofile(path)
        pictures.append((f"Worst {place}: {name}. Left true outlines, right found: open valley blue, smeared orange, scuffed purple.", path))  # fmt: skip
    total = sum(result.counts).astype(float)
    shares = np.divide(
        total, total.sum(1, keepdims=True), out=np.zeros_like(total), where=total.sum(1, keepdims=True) > 0
    )
    page = jinja2.Environment(autoescape=True).from_string(PAGE)
    text = page.render(
        model=model.name, sha=model.sha256, fields=len(fields), folders=", ".join(folders), summary=summary, groups=groups,
        columns=list(next(iter(groups["By specimen or family"].values()))), states=STATES,
        confusion=list(zip(STATES, shares.tolist(), strict=True)),
        pictures=[(caption, base64.b64encode(path.read_bytes()).decode()) for caption, path in pictures],
    )  # fmt: skip
    (out / "report.html").write_text(text, encoding="utf-8")
    return summary


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--model", type=Path, required=True)
    parser.add_argument("--labels", type=Path, nargs="+", required=True)
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    model = load_model(given.model)
    fields = known_from_labels([field for folder in given.labels for field in read_labels(folder)])
    result = evaluate(fields, model_predictor(model), keep_codes=True)
    summary = write_report(result, fields, model, [folder.name for folder in given.labels], given.out)
    print(json.dumps(summary, indent=1))


if __name__ == "__main__":
    try:
        main()
    except SemwearError as error:
        sys.exit(str(error))
