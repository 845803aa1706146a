import { randomUUID } from 'node:crypto';
import type { PhotoSurvey } from '../index.js';
import type { Limits } from './limits.js';
import { busy, WebProblem } from './problem.js';

/** A photo that was sent, kept in memory only. */
export interface KeptPhoto extends PhotoSurvey {
  readonly id: string;
  /** What it was called, for people; no path is made of it. */
  readonly name: string;
  readonly bytes: Uint8Array;
}

interface Slot {
  readonly photo: KeptPhoto;
  usedAt: number;
  /** The latest copy to look at: zooming in asks for the same one again and again. */
  view?: { readonly widthPx: number; readonly jpeg: Uint8Array };
}

/** Photos that were sent, bounded in number and bytes. None of them reaches a disk before it is saved. */
export class PhotoStore {
  readonly #limits: Limits;
  readonly #now: () => number;
  readonly #slots = new Map<string, Slot>();
  #arriving = 0;
  #bytes = 0;

  /**
   * @param limits - What is taken at most.
   * @param now - The time, ms.
   */
  constructor(limits: Limits, now: () => number) {
    this.#limits = limits;
    this.#now = now;
  }

  /**
   * Makes room for a photo before it arrives.
   * @param bytes - How large it is said to be.
   * @returns Gives the room back, once, also where the photo was kept.
   * @throws {WebProblem} `busy` where there is no room.
   */
  reserve(bytes: number): () => void {
    const { photos, allBytes } = this.#limits;
    const isFull = () => this.#slots.size + this.#arriving >= photos || this.#bytes + bytes > allBytes;
    if (isFull()) this.#forget(this.#limits.spareMs, isFull);
    if (isFull()) throw busy('There is no room for more photos at the moment.');
    this.#arriving += 1;
    this.#bytes += bytes;
    let isOpen = true;
    return () => {
      if (!isOpen) return;
      isOpen = false;
      this.#arriving -= 1;
      this.#bytes -= bytes;
    };
  }

  /**
   * Keeps a photo, for which room was made.
   * @param photo - The photo.
   * @returns It, with the name under which it is asked for.
   */
  add(photo: Omit<KeptPhoto, 'id'>): KeptPhoto {
    const kept = { ...photo, id: randomUUID() };
    this.#slots.set(kept.id, { photo: kept, usedAt: this.#now() });
    this.#bytes += kept.bytes.length;
    return kept;
  }

  /**
   * A photo that is kept; it is then kept on.
   * @param id - Its name.
   * @returns The photo.
   * @throws {WebProblem} `not-found`.
   */
  get(id: string): KeptPhoto {
    return this.#slot(id).photo;
  }

  /**
   * A copy of a photo to look at.
   * @param id - The photo's name.
   * @param widthPx - How wide the copy is.
   * @param make - Makes it.
   * @returns The copy, made now or before.
   * @throws {WebProblem} `not-found`.
   */
  async view(
    id: string,
    widthPx: number,
    make: (photo: KeptPhoto) => Promise<Uint8Array>,
  ): Promise<Uint8Array> {
    const slot = this.#slot(id);
    if (slot.view?.widthPx !== widthPx) slot.view = { widthPx, jpeg: await make(slot.photo) };
    return slot.view.jpeg;
  }

  /**
   * Forgets a photo.
   * @param id - Its name.
   * @throws {WebProblem} `not-found`.
   */
  remove(id: string): void {
    const { photo } = this.#slot(id);
    this.#slots.delete(id);
    this.#bytes -= photo.bytes.length;
  }

  /** Forgets what nobody asked for in a long time. */
  sweep(): void {
    this.#forget(this.#limits.keptMs, () => true);
  }

  // Forgets what was not asked for in so long, the longest first, while more has to go.
  #forget(unusedMs: number, isWanted: () => boolean): void {
    const oldest = [...this.#slots.values()].toSorted((a, b) => a.usedAt - b.usedAt);
    for (const { photo, usedAt } of oldest) {
      if (this.#now() - usedAt <= unusedMs || !isWanted()) return;
      this.remove(photo.id);
    }
  }

  #slot(id: string): Slot {
    const slot = this.#slots.get(id);
    if (slot === undefined) {
      throw new WebProblem(
        404,
        'not-found',
        'This photo is no longer kept.',
        'Give it again: it was not asked for in a long time, or the server was started anew.',
      );
    }
    slot.usedAt = this.#now();
    return slot;
  }
}
