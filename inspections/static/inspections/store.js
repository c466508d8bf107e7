// What the phone keeps. Every write is on the disk before it is called done: the battery dies, the readings stay.

const NAME = "holdair-walk";
const STORES = ["meta", "packs", "walks", "drafts", "photos", "sent", "timers"];
let opening;

function open() {
  opening ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      for (const store of STORES) asked.result.createObjectStore(store, { keyPath: "id" });
      asked.result.createObjectStore("queue", { keyPath: "seq", autoIncrement: true });
    };
    asked.onsuccess = () => {
      // Another tab with a newer page wants to change the stores: let it.
      asked.result.onversionchange = () => { asked.result.close(); opening = null; };
      resolve(asked.result);
    };
    asked.onerror = () => { opening = null; reject(asked.error); };
  });
  return opening;
}

const settled = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/** Do several writes or none: `work` gets a function that gives a store by name, and must not wait for anything. */
export async function write(stores, work) {
  const base = await open();
  const names = [stores].flat();
  return new Promise((resolve, reject) => {
    const transaction = base.transaction(names, "readwrite", { durability: "strict" });
    transaction.oncomplete = () => resolve();
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
    work((name) => transaction.objectStore(name));
  });
}

export const put = (store, row) => write(store, (at) => at(store).put(row));
export const drop = (store, key) => write(store, (at) => at(store).delete(key));

export async function get(store, key) {
  return settled((await open()).transaction(store).objectStore(store).get(key));
}

export async function all(store, owner) {
  const rows = await settled((await open()).transaction(store).objectStore(store).getAll());
  return owner === undefined ? rows : rows.filter((row) => row.owner === owner);
}

export const meta = async (id, otherwise = null) => (await get("meta", id))?.value ?? otherwise;
export const setMeta = (id, value) => put("meta", { id, value });

/** Whom the phone last knew to be signed in; what is kept is kept under that person. */
export async function whoami() {
  const who = await meta("who");
  return who && { ...who, owner: `${who.department}:${who.user}` };
}
