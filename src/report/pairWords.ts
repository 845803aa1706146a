/** What is said where two axes of a machine look exchanged. */
export const EXCHANGED =
  'Both values fit the history of their machine better the other way round: check which face was photographed as which axis, and what was entered where.';
