// Python on the phone: a module worker that is handed a record and says how a page of it reads.
let phone = null;

async function bytesOf(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return answer.arrayBuffer();
}

// All three are compiled already, where the office could: nothing is read anew at each start.
async function start({ runtime, standard, field, templates }) {
  const { loadPyodide } = await import(`${runtime}pyodide.mjs`);
  const [python, ...packed] = await Promise.all([
    loadPyodide({ indexURL: runtime, stdLibURL: standard }), bytesOf(field), bytesOf(templates),
  ]);
  for (const bytes of packed) python.unpackArchive(bytes, "zip", { extractDir: "/field" });
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

self.addEventListener("message", (event) => {
  const { id, act, ...given } = event.data;
  last = last.then(async () => {
    try {
      self.postMessage({ id, act, said: await acts[act](given) });
    } catch (error) {
      self.postMessage({ id, act, error: String(error), isDead: isDead(error) });
    }
  });
});
