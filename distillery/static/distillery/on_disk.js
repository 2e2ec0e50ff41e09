// Boxes that were left and are not answered for by the server yet, on the disk of this computer. What a page has on its way
// is gone with a power cut, and what it puts into localStorage is written seconds later; a transaction of IndexedDB with
// strict durability is on the disk when it is complete (Indexed Database API 3.0, section 2.7.1). One entry a form and
// person. Where the browser has no such store, nothing is kept here and nothing else changes.
window.gaugebookOnDisk = (() => {
  const NAME = "gaugebook";
  const STORE = "boxes";
  // As long as the server keeps a draft.
  const KEPT_MS = 72 * 60 * 60 * 1000;
  let opening = null;

  const open = () => {
    opening ??= new Promise((done, failed) => {
      const asked = indexedDB.open(NAME, 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => failed(asked.error);
    });
    return opening;
  };

  // Changes one entry, or takes it out where nothing is left of it; over once it is on the disk.
  const change = async (place, changed) => {
    const store = await open();
    await new Promise((done, failed) => {
      const turn = store.transaction(STORE, "readwrite", { durability: "strict" });
      const entries = turn.objectStore(STORE);
      const asked = entries.get(place);
      asked.onsuccess = () => {
        const entry = changed(asked.result);
        if (entry) {
          entries.put(entry, place);
        } else if (asked.result) {
          entries.delete(place);
        }
      };
      turn.oncomplete = () => done();
      turn.onabort = () => failed(turn.error);
    });
  };

  const quietly = async (work, otherwise) => {
    try {
      return await work();
    } catch {
      return otherwise;
    }
  };
  const placeOf = (person, key) => `${person} ${key}`;

  // The boxes of one form of one person, on top of those that are there.
  const put = (draft, boxes) =>
    quietly(() =>
      change(placeOf(draft.person, draft.key), (there) => ({
        ...draft,
        serial: there?.serial ?? draft.serial,
        boxes: { ...there?.boxes, ...boxes },
        at: Date.now(),
      })),
    );

  // The server has these: what has been typed over since stays.
  const answered = (person, key, boxes) =>
    quietly(() =>
      change(placeOf(person, key), (there) => {
        const left = Object.entries(there?.boxes ?? {}).filter(([name, text]) => boxes[name] !== text);
        return left.length ? { ...there, boxes: Object.fromEntries(left) } : null;
      }),
    );

  // The form was saved: nothing of it waits.
  const forget = (person, key) => quietly(() => change(placeOf(person, key), () => null));

  // What is there of one person; what nobody sent in three days is let go.
  const of = (person) =>
    quietly(async () => {
      const store = await open();
      const all = await new Promise((done, failed) => {
        const asked = store.transaction(STORE).objectStore(STORE).getAll();
        asked.onsuccess = () => done(asked.result);
        asked.onerror = () => failed(asked.error);
      });
      const old = all.filter((one) => Date.now() - one.at > KEPT_MS);
      await Promise.all(old.map((one) => forget(one.person, one.key)));
      return all.filter((one) => one.person === person && !old.includes(one));
    }, []);

  return { put, answered, forget, of };
})();
