// Compiles what a phone runs with the Python that will run it: node compile.mjs RUNTIME SOURCES MADE
import { readFile } from "node:fs/promises";
import { dirname } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const [runtime, sources, made] = process.argv.slice(2);
const here = dirname(fileURLToPath(import.meta.url));
const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
// the same sources make the same bytes
const python = await loadPyodide({ indexURL: `${runtime}/`, env: { PYTHONHASHSEED: "0" } });
const places = Object.entries({ "/field": sources, "/made": made, "/programs": here });
for (const [place, folder] of places) python.mountNodeFS(place, folder);
python.runPython(await readFile(`${here}/compile.py`, "utf8"));
