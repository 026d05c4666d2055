// What the phone keeps: one IndexedDB. A write counts only once its transaction is complete and durable.

const NAME = "linemap-field";
const STORES = { meta: null, miles: null, outbox: "id", sent: "id", photos: "id" };

let opening = null;

function open() {
  opening ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES)) {
        asked.result.createObjectStore(name, keyPath ? { keyPath } : undefined);
      }
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opening;
}

/** Change stores in one durable transaction; `work` gets a function from store name to store. */
export async function write(names, work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(names, "readwrite", { durability: "strict" });
    transaction.oncomplete = () => resolve();
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error);
    work((name) => transaction.objectStore(name));
  });
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
export const read = (name, key) => ask(name, (store) => store.get(key));

/** All values of a store. */
export const all = (name) => ask(name, (store) => store.getAll());

/** All keys of a store. */
export const keys = (name) => ask(name, (store) => store.getAllKeys());

/** Keep one small fact under a name. */
export const remember = (name, value) => write(["meta"], (store) => store("meta").put(value, name));
