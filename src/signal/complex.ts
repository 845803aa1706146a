/** A complex number, re + j·im. */
export interface Complex {
  readonly re: number;
  readonly im: number;
}
