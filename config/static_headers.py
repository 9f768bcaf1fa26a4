"""What a static file may do: a worker keeps to its own rule, not to that of the page."""

from __future__ import annotations

from wsgiref.headers import Headers

#: compiles WebAssembly, evaluates no text, and fetches from here alone
OF_WORKERS = (
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'"
)


def rule_of_workers(headers: Headers, path: str, url: str) -> None:
    if "/jobs/worker." in url:
        headers["Content-Security-Policy"] = OF_WORKERS
