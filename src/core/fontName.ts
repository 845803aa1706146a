/** The font that comes along, so that pictures and pages look the same on a machine without any. */
export const FONT_NAME = 'DejaVu Sans';
