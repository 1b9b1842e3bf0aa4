/** Where posts wait until the bench has them: IndexedDB, or memory in a browser that keeps nothing. */

export interface BenchEvent {
  id: string;
  kind: string;
  step: string | null;
  subject: string | null;
  at: string;
  data: Record<string, unknown>;
  seen: number | null;
}

/** One thing that waits. `file`: to be sent before its event, whose data then get its hash. */
export interface Waiting {
  n?: number;
  event: BenchEvent;
  file?: Blob;
  name?: string;
  refused?: string;
  /** The log has it; only the page shown is older. Never stored. */
  arrived?: boolean;
}

export interface Store {
  add(row: Waiting): Promise<void>;
  put(row: Waiting): Promise<void>;
  drop(ids: readonly string[]): Promise<void>;
  every(): Promise<Waiting[]>;
}

/** The waiting posts of one machine; another machine served at the same address has its own. */
export async function openStore(machine: string): Promise<Store> {
  try {
    return new BrowserStore(await opened(`trysquare-${machine}`));
  } catch {
    return new MemoryStore();
  }
}

function opened(name: string): Promise<IDBDatabase> {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(name, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("waiting", { keyPath: "n", autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
    asked.onblocked = () => reject(new Error("blocked"));
  });
}

class BrowserStore implements Store {
  constructor(private readonly base: IDBDatabase) {}

  /** Resolves when the change is on disk, as far as the browser says so. */
  private change(work: (rows: IDBObjectStore) => void): Promise<void> {
    return new Promise((resolve, reject) => {
      const whole = this.base.transaction("waiting", "readwrite", { durability: "strict" });
      whole.oncomplete = () => resolve();
      whole.onabort = whole.onerror = () => reject(whole.error);
      work(whole.objectStore("waiting"));
    });
  }

  add(row: Waiting): Promise<void> {
    return this.change((rows) => rows.add(row));
  }

  put(row: Waiting): Promise<void> {
    return this.change((rows) => rows.put(row));
  }

  async drop(ids: readonly string[]): Promise<void> {
    const gone = (await this.every()).filter((row) => ids.includes(row.event.id)).map((row) => row.n!);
    await this.change((rows) => gone.forEach((n) => rows.delete(n)));
  }

  every(): Promise<Waiting[]> {
    return new Promise((resolve, reject) => {
      const asked = this.base.transaction("waiting").objectStore("waiting").getAll();
      asked.onsuccess = () => resolve(asked.result as Waiting[]);
      asked.onerror = () => reject(asked.error);
    });
  }
}

class MemoryStore implements Store {
  private rows: Waiting[] = [];
  private last = 0;

  async add(row: Waiting): Promise<void> {
    this.rows.push({ ...row, n: ++this.last });
  }

  async put(row: Waiting): Promise<void> {
    this.rows = this.rows.map((each) => (each.n === row.n ? row : each));
  }

  async drop(ids: readonly string[]): Promise<void> {
    this.rows = this.rows.filter((row) => !ids.includes(row.event.id));
  }

  async every(): Promise<Waiting[]> {
    return [...this.rows];
  }
}
