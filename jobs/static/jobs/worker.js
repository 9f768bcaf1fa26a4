// Python on the phone: a module worker that is handed a record and says how a page of it reads.
let phone = null;

async function bytesOf(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return answer.arrayBuffer();
}

// a file that was imported is not read again: memory is what a phone has least of
const START = `
import shutil, sys
from pathlib import Path
for packed in Path("/tmp").glob("*.zip"):
    shutil.unpack_archive(packed, "/field")
    packed.unlink()
sys.dont_write_bytecode = True
sys.path.insert(0, "/field")
from jobs.phone.worker import Worker
phone = Worker(Path("/field"))
for module in list(sys.modules.values()):
    if str(getattr(module, "__file__", "")).startswith("/field/"):
        Path(module.__file__).unlink(missing_ok=True)
phone
`;

// All three are compiled already, where the office could: nothing is read anew at each start.
async function start({ runtime, standard, field, templates }) {
  const { loadPyodide } = await import(`${runtime}pyodide.mjs`);
  const [python, ...packed] = await Promise.all([
    loadPyodide({ indexURL: runtime, stdLibURL: standard }), bytesOf(field), bytesOf(templates),
  ]);
  packed.forEach((bytes, at) => {
    python.FS.writeFile(`/tmp/${at}.zip`, new Uint8Array(bytes), { canOwn: true });
  });
  phone = python.runPython(START);
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
