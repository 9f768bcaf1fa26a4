// Python on the phone: a module worker that is handed a record and says how a page of it reads.
let phone = null;
let compiling = ""; // under this name, once there is nothing to do

async function bytesOf(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return answer.arrayBuffer();
}

// What Python made of our code at the first start is kept under the names of both files.
const COMPILED = "compiled";

async function compiledOf(name) {
  try {
    const found = await (await caches.open(COMPILED)).match(name);
    return found ? await found.arrayBuffer() : null;
  } catch {
    return null; // no cache here: it is made again at each start
  }
}

// file by file, so that no key waits longer than one of them takes
async function keepCompiled(name) {
  try {
    const files = python.runPython(`
import io, py_compile, zipfile
UNCHECKED = py_compile.PycInvalidationMode.UNCHECKED_HASH
[str(path) for path in Path("/field").rglob("*.py")]
`).toJs();
    const compile = python.runPython(`
lambda path: py_compile.compile(path, doraise=False, quiet=2, invalidation_mode=UNCHECKED) and None
`);
    for (const file of files) await inTurn(() => compile(file));
    await inTurn(() => keep(name));
  } catch {
    // without it the next start takes longer
  }
}

async function keep(name) {
  const bytes = python.runPython(`
made = io.BytesIO()
with zipfile.ZipFile(made, "w") as archive:
    for path in Path("/field").rglob("*.pyc"):
        archive.write(path, path.relative_to("/field"))
made.getvalue()
`).toJs();
  const kept = await caches.open(COMPILED);
  for (const former of await kept.keys()) await kept.delete(former);
  await kept.put(name, new Response(bytes));
}

let python = null;

async function start({ runtime, field, templates }) {
  const { loadPyodide } = await import(`${runtime}pyodide.mjs`);
  const name = `/compiled/${[runtime, field, templates].map((each) => each.split("/").slice(-2).join("-")).join("-")}`;
  const [loaded, compiled, ...packed] = await Promise.all([
    loadPyodide({ indexURL: runtime }), compiledOf(name), bytesOf(field), bytesOf(templates),
  ]);
  python = loaded;
  for (const bytes of packed) python.unpackArchive(bytes, "zip", { extractDir: "/field" });
  if (compiled) python.unpackArchive(compiled, "zip", { extractDir: "/field" });
  else compiling = name;
  phone = python.runPython(`
import sys
from pathlib import Path
sys.path.insert(0, "/field")
from jobs.phone.worker import Worker
Worker(Path("/field"))
`);
}

const acts = {
  start,
  open: ({ text }) => phone.open(text),
  live: ({ text }) => phone.live(text),
  page: ({ text }) => phone.page(text),
  saved: ({ text }) => phone.saved(text),
  going: ({ text }) => phone.going(text),
  first: ({ text }) => phone.first(text),
};

// Nothing more can be asked of a Python that has run out of memory.
const isDead = (error) => Boolean(error.pyodide_fatal_error) || error.type === "MemoryError"
  || error instanceof RangeError || error instanceof WebAssembly.RuntimeError;

// one after the other: what is handed over is read before what is asked of it
let last = Promise.resolve();

// What can wait comes after what was asked meanwhile.
const inTurn = (work) => new Promise((done, failed) => {
  setTimeout(() => {
    const worked = last.then(work);
    last = worked.catch(() => {});
    worked.then(done, failed);
  }, 0);
});

self.addEventListener("message", (event) => {
  const { id, act, ...given } = event.data;
  last = last.then(async () => {
    try {
      self.postMessage({ id, act, said: await acts[act](given) });
    } catch (error) {
      self.postMessage({ id, act, error: String(error), isDead: isDead(error) });
    }
  });
  if (act === "live" && compiling) {
    const name = compiling;
    compiling = "";
    setTimeout(() => keepCompiled(name), 3000);
  }
});
