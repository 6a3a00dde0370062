/** @typedef {import("../core/uploadqueue.js").QueueItem} QueueItem */
/** @typedef {{submission: string, user: string, address: string}} SendWish */

const NAME = "uploads";
const VERSION = 1;

/**
 * The queue of this phone: items, the files themselves, and which submissions go to the coach once all have arrived.
 * Where the browser keeps no database (some private windows), it lasts as long as the page; `isLasting` says so.
 */
export class UploadStore {
  constructor() {
    /** @type {IDBDatabase | null} */
    this.database = null;
    this.memory = { items: new Map(), files: new Map(), sends: new Map() };
    this.isLasting = false;
    this.channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("uploads") : null;
    this.changes = new EventTarget();
    if (this.channel) this.channel.onmessage = () => this.changes.dispatchEvent(new Event("change"));
  }

  async open() {
    try {
      this.database = await openDatabase();
      this.isLasting = true;
    } catch {
      this.database = null;
    }
    return this;
  }

  /** @returns {Promise<QueueItem[]>} */
  async items() {
    const kept = this.database ? await this.read("items", (store) => store.getAll()) : [];
    return [...kept, ...this.memory.items.values()];
  }

  /** @returns {Promise<SendWish[]>} */
  async sends() {
    return this.database ? this.read("sends", (store) => store.getAll()) : [...this.memory.sends.values()];
  }

  /** @param {QueueItem} item @param {Blob} file @returns {Promise<boolean>} false: it stays only while the page is open */
  async add(item, file) {
    if (this.database) {
      try {
        await this.write(["items", "files"], (stores) => {
          stores.items.put(item);
          stores.files.put({ id: item.id, file });
        });
        this.tell();
        return true;
      } catch {
        // No room left for the file: this page can still send it.
      }
    }
    this.memory.items.set(item.id, item);
    this.memory.files.set(item.id, { id: item.id, file });
    this.tell();
    return false;
  }

  /** @param {string} id @returns {Promise<Blob | null>} */
  async file(id) {
    if (this.memory.files.has(id)) return this.memory.files.get(id).file;
    const kept = this.database ? await this.read("files", (store) => store.get(id)) : null;
    return kept?.file ?? null;
  }

  /**
   * Change one item in one step, so that two tabs never both take it. `change` returns the new item, or null for none.
   * @param {string} id @param {(item: QueueItem) => QueueItem | null} change @returns {Promise<QueueItem | null>}
   */
  async change(id, change) {
    const held = this.memory.items.get(id);
    const after = held ? this.changeInMemory(held, change) : await this.changeKept(id, change);
    if (after) this.tell();
    return after;
  }

  /** @param {QueueItem} held @param {(item: QueueItem) => QueueItem | null} change */
  changeInMemory(held, change) {
    const after = change(held);
    if (after) this.memory.items.set(held.id, after);
    return after;
  }

  /** @param {string} id @param {(item: QueueItem) => QueueItem | null} change @returns {Promise<QueueItem | null>} */
  async changeKept(id, change) {
    /** @type {QueueItem | null} */
    let after = null;
    if (!this.database) return null;
    await this.write(["items"], ({ items }) => {
      const asked = items.get(id);
      asked.onsuccess = () => {
        after = asked.result ? change(asked.result) : null;
        if (after) items.put(after);
      };
    });
    return after;
  }

  /** The file has arrived; the phone need not hold it any longer. @param {string} id */
  async dropFile(id) {
    this.memory.files.delete(id);
    if (this.database) await this.write(["files"], ({ files }) => void files.delete(id));
  }

  /** @param {string} id */
  async remove(id) {
    this.memory.items.delete(id);
    this.memory.files.delete(id);
    if (this.database) {
      await this.write(["items", "files"], ({ items, files }) => {
        items.delete(id);
        files.delete(id);
      });
    }
    this.tell();
  }

  /** @param {SendWish} wish */
  async wishToSend(wish) {
    if (this.database) await this.write(["sends"], ({ sends }) => void sends.put(wish));
    else this.memory.sends.set(wish.submission, wish);
    this.tell();
  }

  /** @param {string} submission */
  async forgetSend(submission) {
    this.memory.sends.delete(submission);
    if (this.database) await this.write(["sends"], ({ sends }) => void sends.delete(submission));
    this.tell();
  }

  tell() {
    this.changes.dispatchEvent(new Event("change"));
    this.channel?.postMessage("change");
  }

  /** @param {string} name @param {(store: IDBObjectStore) => IDBRequest} ask @returns {Promise<any>} */
  read(name, ask) {
    return new Promise((resolve, reject) => {
      const request = ask(/** @type {IDBDatabase} */ (this.database).transaction(name).objectStore(name));
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
  }

  /** @param {string[]} names @param {(stores: Record<string, IDBObjectStore>) => void} work @returns {Promise<void>} */
  write(names, work) {
    return new Promise((resolve, reject) => {
      const steps = /** @type {IDBDatabase} */ (this.database).transaction(names, "readwrite");
      steps.oncomplete = () => resolve();
      steps.onerror = () => reject(steps.error);
      steps.onabort = () => reject(steps.error ?? new Error("the browser stopped the transaction"));
      work(Object.fromEntries(names.map((name) => [name, steps.objectStore(name)])));
    });
  }
}

/** @returns {Promise<IDBDatabase>} */
function openDatabase() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("items", { keyPath: "id" });
      request.result.createObjectStore("files", { keyPath: "id" });
      request.result.createObjectStore("sends", { keyPath: "submission" });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("another page holds an older database"));
  });
}
