/**
 * Writes job files of a square-cornered tower with known truth. It shares no code with `src`: what is read back from them
 * is read by somebody else than who wrote it.
 */

/** What the job commands. */
export interface JobTruth {
  readonly layers: number;
  readonly layerHeightMm: number;
  readonly firstLayerHeightMm: number;
  /** Nozzle's way along X and along Y, mm. */
  readonly pathXMm: number;
  readonly pathYMm: number;
  readonly speedMmPerS: number;
  readonly firstLayerSpeedMmPerS: number;
  /** Where the outline starts: a corner (0 front left, then counterclockwise) or the middle of the front. */
  readonly start: 0 | 1 | 2 | 3 | 'front';
  readonly clockwise: boolean;
  readonly alternates: boolean;
  readonly extruder: 'absolute' | 'relative' | 'none';
  readonly relativeMoves: boolean;
  readonly inches: boolean;
  readonly hop: boolean;
  readonly spiral: boolean;
  readonly innerWalls: number;
  /** A slot in the front: centre from its left corner and width, path to path; 0 for none. */
  readonly slotCentreMm: number;
  readonly slotWidthMm: number;
  readonly eol: '\n' | '\r\n';
  readonly lastEol: boolean;
  readonly numbered: boolean;
  readonly bom: boolean;
  /** Turned on the bed about its middle, degrees counterclockwise. */
  readonly turnedDeg: number;
  /** A line to put in front of each layer's change of height. */
  readonly beforeLayer: ((layer: number) => string) | undefined;
  /** A line that cleans the nozzle, printed above the first layer's height. */
  readonly purge: boolean;
}

const PLAIN: JobTruth = {
  layers: 40,
  layerHeightMm: 0.2,
  firstLayerHeightMm: 0.2,
  pathXMm: 83.6,
  pathYMm: 59.6,
  speedMmPerS: 110,
  firstLayerSpeedMmPerS: 40,
  start: 2,
  clockwise: false,
  alternates: false,
  extruder: 'absolute',
  relativeMoves: false,
  inches: false,
  hop: false,
  spiral: false,
  innerWalls: 0,
  slotCentreMm: 0,
  slotWidthMm: 0,
  eol: '\n',
  lastEol: true,
  numbered: false,
  bom: false,
  turnedDeg: 0,
  beforeLayer: undefined,
  purge: false,
};

type Point = readonly [number, number];

/**
 * Writes a job.
 * @param given - What differs from a plain tower of 40 layers.
 * @returns The file's text and what it commands.
 */
export function writeJob(given: Partial<JobTruth> = {}): { readonly text: string; readonly truth: JobTruth } {
  const truth = { ...PLAIN, ...given };
  const out = new Writer(truth);
  out.line('; a tower of our own, written by a test');
  out.line(truth.inches ? 'G20' : 'G21');
  out.line('G90 ; positions');
  out.line('G28 X Y Z');
  out.line('M9998 S1 X5 (a code of nobody)');
  if (truth.purge) {
    out.travel([0, -20], truth.firstLayerHeightMm + 0.1);
    out.print([60, -20], 20);
  }
  if (truth.relativeMoves) out.line('G91');
  for (let layer = 0; layer < truth.layers; layer += 1) {
    const z = truth.firstLayerHeightMm + layer * truth.layerHeightMm;
    const speed = layer === 0 ? truth.firstLayerSpeedMmPerS : truth.speedMmPerS;
    const climbs = truth.spiral && layer > 0;
    const reverse = truth.clockwise !== (truth.alternates && layer % 2 === 1);
    const before = truth.beforeLayer?.(layer);
    if (!climbs) {
      if (out.extrudes) out.retract();
      if (truth.hop) out.height(z + 0.4, 30);
      if (before !== undefined) out.line(before);
      if (!truth.hop) out.height(z, 30);
    } else if (before !== undefined) out.line(before);
    for (let wall = truth.innerWalls; wall >= 0; wall -= 1) {
      const loop = outline(truth, 0.45 * wall, reverse);
      const total = length(loop);
      const start = loop[0]!;
      if (!climbs) {
        out.travel(start);
        if (truth.hop) out.height(z, 30);
        if (out.extrudes) out.unretract();
      }
      let way = 0;
      for (let i = 1; i < loop.length; i += 1) {
        way += distance(loop[i - 1]!, loop[i]!);
        const zTo = climbs ? z - truth.layerHeightMm * (1 - way / total) : undefined;
        out.print(loop[i]!, speed, zTo);
      }
      if (truth.hop && !climbs && wall > 0) out.height(z + 0.4, 30);
    }
  }
  out.line('M30');
  return { text: out.text(), truth };
}

function outline(truth: JobTruth, inset: number, reverse: boolean): readonly Point[] {
  const [x0, y0] = [100 + inset, 90 + inset];
  const [x1, y1] = [100 + truth.pathXMm - inset, 90 + truth.pathYMm - inset];
  const corners: Point[] = [
    [x0, y0],
    [x1, y0],
    [x1, y1],
    [x0, y1],
  ];
  const half = truth.slotWidthMm / 2;
  const centre = 100 + truth.slotCentreMm;
  const slot: Point[] =
    truth.slotWidthMm > 0
      ? [
          [centre - half, y0],
          [centre - half, y0 + 6],
          [centre + half, y0 + 6],
          [centre + half, y0],
        ]
      : [];
  const front: Point[] = truth.start === 'front' ? [[100 + truth.pathXMm / 3, y0]] : [];
  // Counterclockwise from the front left corner; along the front first what lies farther left.
  const along = [...slot, ...front].sort((a, b) => (slot.includes(a) && slot.includes(b) ? 0 : a[0] - b[0]));
  const loop = [corners[0]!, ...along, ...corners.slice(1)];
  if (reverse) loop.reverse();
  const start = truth.start === 'front' ? front[0]! : corners[truth.start]!;
  const at = loop.indexOf(start);
  const turned = [...loop.slice(at), ...loop.slice(0, at), start];
  const angle = (truth.turnedDeg * Math.PI) / 180;
  const [mx, my] = [100 + truth.pathXMm / 2, 90 + truth.pathYMm / 2];
  return turned.map(([x, y]): Point => [
    mx + (x - mx) * Math.cos(angle) - (y - my) * Math.sin(angle),
    my + (x - mx) * Math.sin(angle) + (y - my) * Math.cos(angle),
  ]);
}

function distance(a: Point, b: Point): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1]);
}

function length(loop: readonly Point[]): number {
  return loop.slice(1).reduce((sum, point, i) => sum + distance(loop[i]!, point), 0);
}

class Writer {
  readonly #truth: JobTruth;
  readonly #lines: string[] = [];
  #x = 0;
  #y = 0;
  #z = 0;
  #e = 0;

  constructor(truth: JobTruth) {
    this.#truth = truth;
  }

  get extrudes(): boolean {
    return this.#truth.extruder !== 'none';
  }

  line(text: string): void {
    if (!this.#truth.numbered) {
      this.#lines.push(text);
      return;
    }
    const body = `N${this.#lines.length + 1} ${text.replace(/ ?[;(].*$/, '')}`;
    const sum = Buffer.from(body).reduce((all, byte) => all ^ byte, 0);
    this.#lines.push(`${body}*${sum}`);
  }

  height(z: number, speed: number): void {
    this.line(`G0 Z${this.#length(z, this.#z)} F${this.#speed(speed)}`);
    this.#z = z;
  }

  travel(to: Point, z?: number): void {
    const up = z === undefined ? '' : ` Z${this.#length(z, this.#z)}`;
    this.line(
      `G0 X${this.#length(to[0], this.#x)} Y${this.#length(to[1], this.#y)}${up} F${this.#speed(200)}`,
    );
    [this.#x, this.#y, this.#z] = [to[0], to[1], z ?? this.#z];
  }

  print(to: Point, speed: number, z?: number): void {
    const way = distance([this.#x, this.#y], to);
    const up = z === undefined ? '' : ` Z${this.#length(z, this.#z, 4)}`;
    this.line(
      `G1 X${this.#length(to[0], this.#x)} Y${this.#length(to[1], this.#y)}${up}${this.#extrude(0.033 * way)} F${this.#speed(speed)}`,
    );
    [this.#x, this.#y, this.#z] = [to[0], to[1], z ?? this.#z];
  }

  retract(): void {
    this.line(`G1${this.#extrude(-0.8)} F2400`);
  }

  unretract(): void {
    this.line(`G1${this.#extrude(0.8)} F2400`);
  }

  text(): string {
    const { eol, lastEol, bom } = this.#truth;
    return (bom ? '\uFEFF' : '') + this.#lines.join(eol) + (lastEol ? eol : '');
  }

  #extrude(amount: number): string {
    const { extruder } = this.#truth;
    if (extruder === 'none') return '';
    this.#e = extruder === 'absolute' ? this.#e + amount : amount;
    return ` E${this.#e.toFixed(5)}`;
  }

  #length(to: number, from: number, digits = 4): string {
    const { inches, relativeMoves } = this.#truth;
    // Rounded sums drift: a relative job is told finely enough.
    const mm = relativeMoves ? to - from : to;
    return (inches ? mm / 25.4 : mm).toFixed(inches || relativeMoves ? 7 : digits);
  }

  #speed(mmPerS: number): string {
    return String((mmPerS * 60) / (this.#truth.inches ? 25.4 : 1));
  }
}
