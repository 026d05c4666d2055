// What the phone keeps: one IndexedDB. A write counts only once its transaction is complete and durable.

const NAME = "linemap-field";
const STORES = { meta: null, miles: null, heads: null, outbox: "id", sent: "id", photos: "id" };

let opening = null;

/** Create what is not there yet. Miles of an older shape are given up: they are on the server, records are not. */
function upgrade(db, asked, from) {
  for (const [name, keyPath] of Object.entries(STORES)) {
    if (!db.objectStoreNames.contains(name)) db.createObjectStore(name, keyPath ? { keyPath } : undefined);
  }
  if (from) asked.transaction.objectStore("miles").clear();
}

function open() {
  opening ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 2);
    asked.onupgradeneeded = ({ oldVersion }) => upgrade(asked.result, asked, oldVersion);
    asked.onsuccess = () => {
      asked.result.onversionchange = () => asked.result.close();
      resolve(asked.result);
    };
    asked.onerror = () => reject(asked.error);
  });
  return opening;
}

/** Change stores in one durable transaction; `work` gets a function from store name to store. */
async function write(names, work) {
  const db = await open();
  return /** @type {Promise<void>} */ (new Promise((resolve, reject) => {
    const transaction = db.transaction(names, "readwrite", { durability: "strict" });
    transaction.oncomplete = () => resolve();
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error);
    work((name) => transaction.objectStore(name));
  }));
}

async function ask(name, question) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const asked = question(db.transaction(name).objectStore(name));
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

/** The value kept under a key, undefined when there is none. */
const read = (name, key) => ask(name, (store) => store.get(key));

/** All values of a store. */
const all = (name) => ask(name, (store) => store.getAll());

/** Keep one small fact under a name. */
const remember = (name, value) => write(["meta"], (store) => store("meta").put(value, name));

export { write, read, all, remember };
