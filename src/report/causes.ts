const CAUSES: Readonly<Record<string, string>> = {
  'scatter-null': 'scatter of the heights about the fit',
  'scatter-spacing': 'scatter of the ripples about the fit',
  'scale-along-wall': 'length along the wall',
  'scale-along-height': 'length along the height',
  'scale-from-reference': 'size taken from the reference',
  speed: 'print speed',
  'layer-rounding': 'steps of the ladder',
  'layer-origin': 'where the lowest layer lies',
  'near-pattern': 'a pattern of nearly the same spacing',
  'faint-second': 'a second swing too faint to be told',
  'assumed-acceleration': 'acceleration, assumed',
  'assumed-corner-speed': 'corner speed, assumed',
  'assumed-along-wall': 'whether the move along the wall is shaped, assumed',
  'axis-damping': 'damping ratio of the axis',
  'shaper-damping': 'damping ratio of the shaper, assumed',
};

/**
 * A cause of uncertainty in words.
 * @param cause - Its name in the budget.
 * @returns Words; the name itself for one of another version.
 */
export function causeWords(cause: string): string {
  return CAUSES[cause] ?? cause;
}
