"""The API's documentation as one static page: no script, nothing from elsewhere."""

from html import escape
from typing import Any

from mendpool.api.problems import KINDS

_STYLE = """body{font:1rem/1.5 system-ui,sans-serif;max-width:60rem;margin:0 auto;padding:1rem}
code,pre{font-family:ui-monospace,monospace;overflow-wrap:anywhere}
h2{margin-top:2.5rem}h3{margin:1.5rem 0 .2rem}table{border-collapse:collapse;width:100%}
td,th{border:1px solid #999;padding:.3rem .5rem;text-align:left;vertical-align:top}
@media(prefers-color-scheme:dark){body{background:#111;color:#eee}a{color:#9cf}}"""


_SIGN_IN = (
    "<p>Sign in with <code>Authorization: Bearer …</code>; the pool's own page has a cookie "
    "instead (<code>/v1/session</code>) and says a token with it. The same as a document for "
    "machines: <a href='/openapi.json'>/openapi.json</a>.</p>"
)


def style_sheet() -> str:
    """Return the page's style, served as a file of its own (the policy allows no inline)."""
    return _STYLE


def docs_page(document: dict[str, Any]) -> str:
    """Return the page for an OpenAPI document."""
    parts = [
        "<!doctype html><html lang='en'><head><meta charset='utf-8'>",
        "<meta name='viewport' content='width=device-width'>",
        f"<title>{escape(document['info']['title'])}: the API</title>",
        "<link rel='stylesheet' href='/docs.css'></head><body>",
        f"<h1>{escape(document['info']['title'])}: the API</h1>",
        f"<p>{escape(document['info'].get('description', ''))}</p>",
        _SIGN_IN,
        "<h2>Routes</h2>",
    ]
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            if method != "head":
                parts += _route(path, method, operation)
    parts += ["<h2>Bodies</h2>", *_schemas(document)]
    parts += ["<h2>Problems</h2><table><tr><th>type</th><th>status</th><th>meaning</th></tr>"]
    parts += [
        f"<tr id='{kind.name}'><td><code>{kind.name}</code></td><td>{kind.status}</td>"
        f"<td>{escape(kind.title)}. {escape(kind.detail)}</td></tr>"
        for kind in KINDS.values()
    ]
    parts.append("</table></body></html>")
    return "\n".join(parts)


def _route(path: str, method: str, operation: dict[str, Any]) -> list[str]:
    parts = [
        f"<h3><code>{method.upper()} {escape(path)}</code></h3>",
        f"<p>{escape(operation.get('description') or operation.get('summary', ''))}</p>",
    ]
    names = [p["name"] for p in operation.get("parameters", ()) if p["in"] == "query"]
    if names:
        parts.append(f"<p>Query: {', '.join(f'<code>{escape(n)}</code>' for n in names)}</p>")
    body = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
    if body:
        parts.append(f"<p>Body: {_type(body['schema'])}</p>")
    answers = ", ".join(
        f"{code} {escape(a['description'])}" for code, a in operation["responses"].items()
    )
    parts.append(f"<p>Answers: {answers}</p>")
    return parts


def _schemas(document: dict[str, Any]) -> list[str]:
    parts = []
    for name, schema in sorted(document.get("components", {}).get("schemas", {}).items()):
        parts.append(f"<h3 id='schema-{escape(name)}'>{escape(name)}</h3>")
        said = schema.get("description", "").split("\n\n")[0]
        parts.append(f"<p>{escape(said)}</p><table><tr><th>field</th><th>type</th></tr>")
        needed = set(schema.get("required", ()))
        for field, inner in schema.get("properties", {}).items():
            star = " (needed)" if field in needed else ""
            parts.append(
                f"<tr><td><code>{escape(field)}</code>{star}</td><td>{_type(inner)}</td></tr>"
            )
        parts.append("</table>")
    return parts


def _type(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        name = escape(str(schema["$ref"]).rsplit("/", 1)[-1])
        return f"<a href='#schema-{name}'>{name}</a>"
    for key in ("anyOf", "oneOf"):
        if key in schema:
            return " or ".join(_type(s) for s in schema[key] if s.get("type") != "null")
    if "enum" in schema:
        return " | ".join(escape(str(v)) for v in schema["enum"])
    if schema.get("type") == "array":
        return f"list of {_type(schema.get('items', {}))}"
    bounds = [
        f"{k} {schema[k]}"
        for k in ("minimum", "maximum", "maxLength", "maxItems")
        if k in schema
    ]
    said = str(schema.get("type", "any"))
    return escape(said + (f" ({', '.join(bounds)})" if bounds else ""))
