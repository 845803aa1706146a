/** A lamp or a camera, seen from the middle of the face. */
export interface Place {
  /** From straight in front towards the far end of the wall, degrees; negative: towards the leading corner. */
  readonly azimuthDeg: number;
  readonly elevationDeg: number;
  /** In widths of the face. */
  readonly distanceWidths: number;
}

/** What the wall does with light. */
export interface Surface {
  /** Strength of the silk lobe, where the matt (Lambert) part has 1. */
  readonly silk: number;
  /** Width of the lobe along the wall, as the tangent of the half vector's tilt. */
  readonly silkAlong: number;
  /** Across the layers: their round edges spread it. */
  readonly silkAcross: number;
}

/** The light that falls on a face. */
export interface Lighting {
  readonly lamp: Place;
  readonly camera: Place;
  readonly surface: Surface;
  /** Share of brightness in the middle of the face that comes from all around, 0–1. */
  readonly ambient: number;
}

/** Brightness of a wall with a slope, at a place of the face. */
export type Shade = (slope: number, xMm: number, heightMm: number) => number;

/**
 * Brightness by geometry: the wall's slope tilts its normal; a point lamp near by changes angle and strength along
 * the wall; the surface is matt with a silk lobe.
 * @param lighting - Lamp, camera, surface.
 * @param widthMm - Width of the face.
 * @param heightMm - Height of the face.
 * @returns Brightness, 1 in the middle of the flat face.
 * @see Lambert's cosine law; lobe after Ward, "Measuring and modeling anisotropic reflection", SIGGRAPH 1992 (from
 * memory): exp(−tan²δ · (cos²φ/α_x² + sin²φ/α_y²)), without its normalisation, which `silk` takes in.
 */
export function shadeOf(lighting: Lighting, widthMm: number, heightMm: number): Shade {
  const { surface, ambient } = lighting;
  const [lampX, lampY, lampZ] = pointAt(lighting.lamp, widthMm);
  const [eyeX, eyeY, eyeZ] = pointAt(lighting.camera, widthMm);
  const distance = lighting.lamp.distanceWidths * widthMm;
  const alongSquare = surface.silkAlong ** 2;
  const acrossSquare = surface.silkAcross ** 2;
  const direct: Shade = (slope, xMm, atMm) => {
    const x = xMm - widthMm / 2;
    const y = atMm - heightMm / 2;
    const lx = lampX - x;
    const ly = lampY - y;
    const far = lx * lx + ly * ly + lampZ * lampZ;
    const toLamp = 1 / Math.sqrt(far);
    // The normal is (−slope, 0, 1) ÷ length, the tangent along the wall (1, 0, slope) ÷ length.
    const length = 1 / Math.sqrt(1 + slope * slope);
    const facing = (lampZ - slope * lx) * toLamp * length;
    if (facing <= 0) return 0;
    let light = facing;
    if (surface.silk > 0) {
      const vx = eyeX - x;
      const vy = eyeY - y;
      const toEye = 1 / Math.sqrt(vx * vx + vy * vy + eyeZ * eyeZ);
      const hx = lx * toLamp + vx * toEye;
      const hy = ly * toLamp + vy * toEye;
      const hz = lampZ * toLamp + eyeZ * toEye;
      const out = (hz - slope * hx) * length;
      const along = (hx + slope * hz) * length;
      light +=
        surface.silk * Math.exp(-((along * along) / alongSquare + (hy * hy) / acrossSquare) / (out * out));
    }
    return (light * distance * distance) / far;
  };
  const middle = direct(0, widthMm / 2, heightMm / 2);
  const share = middle > 0 ? (1 - ambient) / middle : 0;
  return (slope, xMm, atMm) => ambient + share * direct(slope, xMm, atMm);
}

function pointAt(place: Place, widthMm: number): readonly [number, number, number] {
  const azimuth = (place.azimuthDeg * Math.PI) / 180;
  const elevation = (place.elevationDeg * Math.PI) / 180;
  const distance = place.distanceWidths * widthMm;
  return [
    distance * Math.sin(azimuth) * Math.cos(elevation),
    distance * Math.sin(elevation),
    distance * Math.cos(azimuth) * Math.cos(elevation),
  ];
}
