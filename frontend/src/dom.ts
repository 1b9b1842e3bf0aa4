/** Finding and making elements; the page's own facts from its head. */

export function one<T extends Element = HTMLElement>(selector: string, root: ParentNode = document): T | null {
  return root.querySelector<T>(selector);
}

export function all<T extends Element = HTMLElement>(selector: string, root: ParentNode = document): T[] {
  return [...root.querySelectorAll<T>(selector)];
}

/** An element with attributes and children; texts stay texts. */
export function make<K extends keyof HTMLElementTagNameMap>(
  name: K,
  attributes: Record<string, string> = {},
  ...children: (Node | string)[]
): HTMLElementTagNameMap[K] {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

/** A fact of the page: `<meta name="trysquare-NAME" content="…">`; "" when it is not there. */
export function fact(name: string, root: ParentNode = document): string {
  return root.querySelector<HTMLMetaElement>(`meta[name="trysquare-${name}"]`)?.content ?? "";
}

export function setFact(name: string, value: string): void {
  const meta = document.querySelector<HTMLMetaElement>(`meta[name="trysquare-${name}"]`);
  if (meta) meta.content = value;
}

/** The step that the page shows; "" on other pages. */
export function stepHere(): string {
  return one("#page")?.dataset.step ?? "";
}

/** A random name for an event (UUID, version 4). `crypto.randomUUID` is missing on plain HTTP in a LAN. */
export function newId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6]! & 0x0f) | 0x40;
  bytes[8] = (bytes[8]! & 0x3f) | 0x80;
  const text = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20)].join("-");
}

/** A value that is kept in this browser; a browser that keeps nothing forgets it. */
export const kept = {
  read(name: string): string {
    try {
      return localStorage.getItem(`trysquare-${name}`) ?? "";
    } catch {
      return "";
    }
  },
  write(name: string, value: string): void {
    try {
      if (value) localStorage.setItem(`trysquare-${name}`, value);
      else localStorage.removeItem(`trysquare-${name}`);
    } catch {
      // kept nowhere
    }
  },
};
