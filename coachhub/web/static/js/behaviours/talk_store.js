/** @typedef {import("../core/talk.js").LoggedDeed} LoggedDeed */
/** @typedef {import("../core/talk.js").Cut} Cut */
/**
 * @typedef {object} KeptTalk  a talk that lies on this device
 * @property {string} review
 * @property {string} talk
 * @property {Cut[]} cuts
 * @property {LoggedDeed[]} events
 * @property {{take: number, ms: number} | null} running  the take that was being recorded when this was written
 * @property {Record<number, string>} uploads  where the server takes each take
 * @property {number[]} arrived
 * @property {number} at  ms
 */

const NAME = "talks";

/**
 * Talks of this device, written every second: a closed tab or a dead battery costs a second, not a talk.
 * Where the browser keeps no database they live as long as the page; `isLasting` says so.
 */
export class TalkStore {
  constructor() {
    /** @type {IDBDatabase | null} */
    this.database = null;
    this.isLasting = false;
    /** @type {Map<string, KeptTalk>} */
    this.talks = new Map();
    /** @type {{talk: string, take: number, piece: Blob}[]} */
    this.pieces = [];
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

  /** @param {string} review @returns {Promise<KeptTalk | null>} */
  async left(review) {
    if (!this.database) return this.talks.get(review) ?? null;
    return (await asked(this.database.transaction("talks").objectStore("talks").get(review))) ?? null;
  }

  /** @param {KeptTalk} talk */
  async keep(talk) {
    this.talks.set(talk.review, talk);
    if (this.database) await this.write("talks", (store) => store.put(talk));
  }

  /** @param {string} talk @param {number} take @param {Blob} piece */
  async addPiece(talk, take, piece) {
    if (this.database) await this.write("pieces", (store) => store.add({ talk, take, piece }));
    else this.pieces.push({ talk, take, piece });
  }

  /** The take as one file; what a browser cuts off at any piece still plays. @param {string} talk @param {number} take @returns {Promise<Blob>} */
  async sound(talk, take) {
    const all = this.database
      ? await asked(this.database.transaction("pieces").objectStore("pieces").index("take").getAll([talk, take]))
      : this.pieces.filter((one) => one.talk === talk && one.take === take);
    const pieces = all.map((/** @type {{piece: Blob}} */ one) => one.piece);
    return new Blob(pieces, { type: pieces[0]?.type ?? "audio/webm" });
  }

  /** @param {string} review */
  async forget(review) {
    const talk = (await this.left(review))?.talk;
    this.talks.delete(review);
    this.pieces = this.pieces.filter((one) => one.talk !== talk);
    if (!this.database) return;
    await this.write("talks", (store) => store.delete(review));
    await this.write("pieces", (store) => {
      const range = IDBKeyRange.bound([talk, 0], [talk, Number.MAX_SAFE_INTEGER]);
      store.index("take").openKeyCursor(range).onsuccess = (event) => {
        const cursor = /** @type {IDBRequest<IDBCursor | null>} */ (event.target).result;
        if (!cursor) return;
        store.delete(cursor.primaryKey);
        cursor.continue();
      };
    });
  }

  /** @param {"talks" | "pieces"} name @param {(store: IDBObjectStore) => void} work @returns {Promise<void>} */
  write(name, work) {
    return new Promise((resolve, reject) => {
      const step = /** @type {IDBDatabase} */ (this.database).transaction(name, "readwrite");
      step.oncomplete = () => resolve();
      step.onerror = () => reject(step.error);
      step.onabort = () => reject(step.error ?? new Error("the browser stopped the transaction"));
      work(step.objectStore(name));
    });
  }
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** @returns {Promise<IDBDatabase>} */
function openDatabase() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("talks", { keyPath: "review" });
      request.result.createObjectStore("pieces", { autoIncrement: true }).createIndex("take", ["talk", "take"]);
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("another page holds an older database"));
  });
}
