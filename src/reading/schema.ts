import { z } from 'zod';
import { InputError } from '../core/errors.js';
import { REFUSAL_REASONS } from '../core/outcome.js';
import { printRecordSchema } from '../print/record.js';
import { WARNING_CODES } from './warnings.js';

const finite = z.number();
const estimate = z.strictObject({ value: finite, sd: finite.nonnegative() });
const interval = estimate.extend({ low95: finite, high95: finite });
/** Of what is entered on a machine: an edited value would otherwise be told with the interval of another. */
const holding = interval.refine(
  ({ value, low95, high95 }) => low95 <= value && value <= high95,
  'the value lies outside its interval',
);
const point = z.tuple([finite, finite]);
const corners = z.tuple([point, point, point, point]);

/** What becomes of a wall. */
const wallUse = z.enum(['used', 'not-seen', 'too-short', 'unfit', 'contradicts', 'not-tried']);

/** A told slot in a reading. */
const slotSchema = z.strictObject({
  toldMm: finite.describe('Its middle as told, from the leading corner'),
  centreMm: finite.optional().describe('Its middle as it shows; absent where no height shows a gap'),
  widthMm: estimate.optional().describe('Of the gap that shows: median over the heights where it is open'),
  heights: z
    .array(z.strictObject({ heightMm: finite, widthMm: estimate.describe('0 where no gap shows') }))
    .describe('From the bottom up; empty where no height shows a gap'),
  closes: z
    .strictObject({
      heightMm: estimate.describe('Where the gap ends, going along the height'),
      closed: z.enum(['below', 'above']),
      ladderHz: finite.optional().describe('Where the ladder stands there'),
    })
    .optional()
    .describe('Absent where it is open at all heights, or closed here and there'),
});

const contrast = (what: string) => finite.describe(`${what}, relative contrast at the leading corner`);

const proof = z.strictObject({
  state: z.literal('proof'),
  axis: z.string(),
  at: z
    .discriminatedUnion('state', [
      z.strictObject({ state: z.literal('measured'), dampedHz: interval, dampingRatio: estimate }),
      z.strictObject({ state: z.literal('assumed'), dampedHz: finite, dampingRatio: finite }),
      z.strictObject({ state: z.literal('range'), lowHz: finite, highHz: finite, dampingRatio: finite }),
    ])
    .describe(
      "Where ripples were looked for: at their own frequency; where none stand out, at the shaper's, or without a shaper over a range, with an assumed damping ratio",
    ),
  sharedSd: finite
    .nonnegative()
    .describe('Relative standard uncertainty that all amplitudes share, by the damping ratio'),
  steps: z
    .array(
      z.strictObject({
        fromMm: finite,
        toMm: finite,
        mmPerS2: finite.describe('Acceleration of the step, mm/s²'),
        heights: z.int().nonnegative().describe('How many heights could be read'),
        amplitude: estimate.optional().describe('At the leading corner, relative contrast of brightness'),
        significant: z.boolean().describe('More than 4 times its noise'),
        detectable: contrast('Amplitude that would have been significant 95 of 100 times').optional(),
      }),
    )
    .describe('One for each step of the acceleration ladder'),
  quietUpTo: z
    .strictObject({
      mmPerS2: finite,
      below: contrast('Largest amplitude that could have gone unseen at these accelerations'),
    })
    .optional()
    .describe(
      'The highest acceleration tested up to which nothing is significant; absent where the lowest rings',
    ),
  growth: z
    .strictObject({
      perDoubling: interval.describe('Change of the amplitude when the acceleration doubles'),
      verdict: z.enum(['grows', 'falls', 'level']),
    })
    .optional(),
  model: z
    .array(z.strictObject({ mmPerS2: finite, amplitude: contrast('Amplitude') }))
    .optional()
    .describe(
      'What a corner excites by theory, scaled to the amplitudes; absent where no frequency was measured',
    ),
});

const bestHeight = {
  bestHeightMm: interval.describe('Height above the bed where ringing vanishes, mm'),
  cleanBandMm: z
    .strictObject({
      low: finite,
      high: finite,
      mostLeft: finite.describe(
        'Share of the unshaped ringing that is left at most: 0.05, or √2 times the least that this shaper can reach',
      ),
    })
    .describe('Heights above the bed where little ringing is left, mm'),
};
const place = {
  heightMm: interval.describe('Above the bed; of a line its middle, where it crosses the middle of the wall'),
  frequencyHz: interval.optional().describe("The ladder's frequency there; absent where it has none"),
};
const drawn = {
  widthMm: finite.describe('At half its contrast'),
  slantDeg: finite.describe('Rise away from the leading corner'),
  ink: z.enum(['dark', 'light']),
  confidence: finite.describe(
    'How sure it is that this was drawn, 0 to 1: as sure as the weakest of its signs',
  ),
};
const opinion = z
  .discriminatedUnion('code', [
    z.strictObject({
      code: z
        .enum(['agrees', 'keep', 'worth-changing'])
        .describe(
          'Whether it lies within the 95 % half-width of its difference from ours; or else leaves at most 5 % of the ringing, or a fifth more than ours; or more',
        ),
      apartMm: interval.describe('How much higher than our best height'),
      apartHz: interval.describe('How much higher than our frequency'),
      left: z
        .strictObject({ value: finite, low95: finite, high95: finite })
        .describe(
          'Ringing that a shaper set to its frequency leaves ÷ the unshaped, by published theory; its range over the 95 % of apartHz',
        ),
      leftAtOurs: finite.describe('The same of a shaper set to ours'),
    }),
    z.strictObject({
      code: z.literal('no-opinion'),
      because: z
        .enum(['nothing-proposed', 'off-ladder'])
        .describe('There is no band to hold it against, or the ladder has no frequency at its height'),
    }),
  ])
  .describe('What may be said of it');
const penLine = z.strictObject({
  source: z
    .enum(['photo', 'calipers'])
    .describe('A line found in the photo, or a height typed where none was found'),
  ...place,
  widthMm: drawn.widthMm.optional(),
  slantDeg: drawn.slantDeg.optional(),
  ink: drawn.ink.optional(),
  confidence: drawn.confidence.optional(),
  others: z.array(z.strictObject({ ...place, ...drawn })).describe('Further lines, the likeliest first'),
  verdict: opinion,
  typed: z
    .strictObject({
      ...place,
      fromPhotoMm: interval.describe('How much higher than the line found'),
      contradicts: z.boolean().describe('That is more than both uncertainties allow'),
      verdict: opinion,
    })
    .optional()
    .describe('The height typed, where a line was found as well'),
});

const proposal = z.discriminatedUnion('state', [
  z.strictObject({
    state: z.literal('proposed'),
    frequencyHz: holding.describe('Ladder frequency at which this axis rings least, Hz: what to enter'),
    fromNull: interval.describe('The same from the null along the ladder alone, Hz'),
    fromSpacing: interval.describe('The same from speed and ripple spacing alone, Hz'),
    combined: interval.describe('Both routes together by their covariance, Hz'),
    ...bestHeight,
    bestHeights: z
      .array(z.strictObject(bestHeight))
      .min(1)
      .readonly()
      .optional()
      .describe(
        'Of several ladders: the best height of each that has the frequency, from the bottom up; bestHeightMm is the one that is known best. Absent of a single ladder',
      ),
    goodFor: z.enum(['ZV', 'ZVD']).describe('Which shapers the 95 % interval is narrow enough for'),
    axis: z.string(),
  }),
  z.strictObject({
    state: z.literal('refused'),
    reason: z.enum(REFUSAL_REASONS),
    advice: z.string().describe('The one change that would help most'),
    criterion: z.strictObject({ quantity: z.string(), value: finite, limit: finite }).optional(),
  }),
  z.strictObject({
    state: z.literal('spacing-only'),
    frequencyHz: holding.describe('Damped frequency of the axis, Hz'),
    axis: z.string(),
    since: z
      .strictObject({
        wasHz: estimate.describe('The earlier frequency, as told'),
        wasExact: z.boolean().describe('No uncertainty was told of it'),
        changeHz: interval.describe('How much higher the frequency is now, Hz'),
        moved: z.boolean().describe('The change is more than both uncertainties allow'),
        withinZv: finite
          .min(0)
          .max(1)
          .optional()
          .describe(
            'How likely the frequency still lies within 3.2 % of the earlier one, where a ZV shaper set to that cancels it',
          ),
      })
      .optional()
      .describe('Held against an earlier frequency; absent where none was told'),
  }),
  proof,
]);

/** A second frequency beside the first. */
export const secondRinging = z
  .strictObject({
    frequencyHz: estimate.describe('Damped frequency, Hz'),
    dampingRatio: estimate,
    share: finite.nonnegative().describe("Amplitude at the leading corner ÷ the first's, over all heights"),
  })
  .describe('A second frequency that shows in the ripples and was set aside; absent where none stands out');

/** The complete result of one photo, schema `stillband/reading@1`: plain data, units in names, no NaN. */
export const readingSchema = z
  .strictObject({
    schema: z.literal('stillband/reading@1'),
    versions: z.strictObject({ stillband: z.string() }),
    photos: z.array(
      z.strictObject({
        sha256: z.string().regex(/^[0-9a-f]{64}$/),
        bytes: z.int().positive(),
        format: z.string(),
        widthPx: z.int().positive().describe('Width of the upright photo'),
        heightPx: z.int().positive(),
        takenAt: z.string().optional().describe("Local time of the camera's clock, no zone"),
        focalLengthMm: finite.optional(),
        focalLength35Mm: finite.optional(),
        digitalZoom: finite
          .optional()
          .describe('How many times the camera enlarged the middle of its picture'),
      }),
    ),
    printRecord: printRecordSchema,
    assumptions: z.array(z.strictObject({ field: z.string(), value: z.string(), why: z.string() })),
    search: z
      .strictObject({
        how: z
          .enum(['given', 'found', 'not-found', 'unclear', 'cut-off', 'scale-missing'])
          .describe('Whether all corners of the face were told, or it was found; else why no face is read'),
        confidence: finite.optional().describe('How sure it is that this is the face, 0 to 1'),
        cause: z
          .enum(['photo', 'shape', 'click'])
          .optional()
          .describe(
            'What is to blame that no face is read: the photo as a whole, the width and height told, or a corner given; absent when nothing singles it out',
          ),
        guesses: z
          .array(z.strictObject({ cornersPx: corners, confidence: finite }))
          .describe('Where no face is read: the likeliest ones, best first'),
        references: z.array(
          z.strictObject({
            kind: z.enum(['id1-card', 'ruler', 'marker-card']),
            outlinePx: z.array(point),
            confidence: finite,
            behindFaceMm: finite.optional().describe('As told'),
            use: z
              .enum(['scale', 'size', 'off-plane', 'unsure', 'none'])
              .describe(
                "What it is good for: the print's size; the face's size was taken from it; it lies elsewhere than in the plane of the face; too uncertain; no face to hold it against",
              ),
            seemsBehindMm: estimate
              .optional()
              .describe('How far behind the face it would have to lie to look as large as it does'),
          }),
        ),
        missing: z
          .array(z.enum(['id1-card', 'ruler', 'marker-card']))
          .describe('Named in the print record and not found'),
        cardCode: z
          .strictObject({
            state: z
              .enum(['record', 'read', 'newer', 'damaged', 'foreign'])
              .describe(
                'Whether the print record was taken from it; read beside another record; or passed over, being of a later version, damaged, or not of a marker card',
              ),
            machine: z.string().optional().describe('The machine that it names'),
          })
          .optional()
          .describe('The code of the marker card; absent where none was read'),
      })
      .describe('What was looked for in the photo, and what was found'),
    face: z
      .strictObject({
        cornersPx: corners,
        cornerSdPx: finite,
        widthMm: finite,
        heightMm: finite,
        bottomMm: finite,
        sizeSd: z
          .strictObject({ widthMm: finite, heightMm: finite, bottomMm: finite })
          .describe(
            'Standard uncertainties of the three lengths above: of commanded lengths, by the face as printed',
          ),
        mirrored: z.boolean().describe('The leading corner is on the right in the photo'),
        shape: z
          .strictObject({
            aspect: estimate
              .optional()
              .describe('Height ÷ width that the corners show ÷ the told one; absent when none is told'),
            looksTurned: z
              .boolean()
              .optional()
              .describe('The corners fit the face with width and height exchanged, and not as told'),
            skewDeg: estimate.describe("Angle of the face's edges at the top left by the corners, less 90°"),
          })
          .optional()
          .describe('Shape of the face that the four corners show by themselves'),
        mmPerPx: z.strictObject({ alongWall: estimate, alongHeight: estimate }),
        pose: z.strictObject({ obliquityDeg: finite, distanceMm: estimate }).optional(),
        quality: z.strictObject({
          pxPerLayer: finite,
          pxPerRipple: finite.optional(),
          clippedShare: finite.optional(),
          blurPx: finite
            .optional()
            .describe(
              'Blur in the middle of what is found over the face, standard deviation of a Gaussian, px',
            ),
          byRegion: z
            .array(
              z.strictObject({
                blurPx: finite.optional(),
                clippedShare: finite,
                noise: finite
                  .optional()
                  .describe('Scatter of a pixel about its neighbours along the wall ÷ brightness'),
              }),
            )
            .optional()
            .describe(
              'Nine regions: thirds of the height from the top, each in thirds from the leading corner',
            ),
        }),
        lens: z
          .strictObject({ k1: finite, focalPx: finite, centrePx: point })
          .optional()
          .describe(
            'Radial distortion that straight edges show: r_d = r (1 + k1 r²), r in focal lengths from the centre',
          ),
      })
      .optional()
      .describe('Absent where no face was found'),
    layerLines: z
      .strictObject({
        pitchMm: estimate.describe('Distance of neighbouring layer lines by the size of the face'),
        pxPerLayer: finite,
        used: z.boolean().describe('Heights are counted in layers'),
        contrast: finite
          .nonnegative()
          .optional()
          .describe('Amplitude of the lines ÷ brightness, as blurred as the photo is'),
      })
      .optional()
      .describe('Absent where no layer lines are seen'),
    scales: z.array(
      z.strictObject({
        kind: z.enum(['face', 'two-points', 'dpi', 'layers', 'id1-card', 'ruler', 'marker-card']),
        class: z.enum(['commanded', 'physical']),
        perCommanded: estimate.describe('Millimetres of its class for each commanded millimetre'),
      }),
    ),
    walls: z.array(
      z.strictObject({
        startMm: finite,
        endMm: finite,
        startsAt: z.enum(['leading-corner', 'slot']),
        use: wallUse.optional().describe('What it is to the result; absent where there is one wall'),
      }),
    ),
    slots: z.array(slotSchema).optional().describe('Absent where none is told'),
    heights: z.array(
      z.strictObject({
        heightMm: finite.describe('Middle of the band above the bed'),
        layer: z.int().nonnegative(),
        ladderHz: finite.optional(),
        accelerationMmPerS2: finite
          .optional()
          .describe('Of a proof print; absent where the acceleration changes within the height'),
        spacingMm: estimate.optional().describe('Print speed ÷ highest line of the FFT in travel time'),
        frequencyHz: estimate.optional(),
        amplitude: estimate.optional().describe('At the leading corner, relative contrast of brightness'),
        signedAmplitude: finite.optional().describe('The same, turned to the common phase'),
        fittedAmplitude: finite.optional().describe('What the null fit says it should be'),
        noise: finite.optional().describe('Noise floor of the spectrum, relative contrast'),
        significant: z.boolean(),
      }),
    ),
    ringing: z
      .strictObject({
        frequencyHz: estimate,
        dampingRatio: estimate,
        signalToNoise: finite,
        doubling: estimate
          .optional()
          .describe(
            'Amplitude of the ripples at twice their frequency ÷ at it, at the leading corner: light from the front doubles ripples. Absent where nothing stands out at it',
          ),
        second: secondRinging.optional(),
      })
      .optional(),
    fixedPitches: z.array(z.strictObject({ pitchMm: estimate, amplitude: estimate })),
    spacingCheck: z.strictObject({
      state: z.enum(['agrees', 'disagrees', 'not-measurable']),
      spacingMm: estimate.optional(),
      frequencyHz: estimate.optional(),
      expectedNullHz: estimate.optional(),
      explanation: z
        .strictObject({
          cause: z.enum(['speed', 'reversed-ladder']),
          impliedSpeedMmPerS: finite,
          nullHz: finite,
          nullHeightMm: finite.optional().describe('Absent where the null lies outside the ladder'),
        })
        .optional(),
    }),
    nullFit: z
      .strictObject({
        naturalHz: finite,
        dampingRatio: finite,
        nullHz: estimate.describe('With all causes of uncertainty'),
        turnsOver: z.boolean().describe('Whether ringing turns over where this shaper lets it vanish'),
        timeOrigin: z.int(),
        reversalF: finite,
        signalBelow: finite,
        signalAbove: finite,
      })
      .optional(),
    budget: z.array(
      z.strictObject({ cause: z.string(), type: z.enum(['A', 'B']), nullHz: finite, spacingHz: finite }),
    ),
    penLine: penLine
      .optional()
      .describe('Second opinion on a height chosen by eye; absent where no line was drawn or typed'),
    proposal,
    warnings: z.array(z.strictObject({ code: z.enum(WARNING_CODES), text: z.string() })),
  })
  .describe('Complete result of one photo');

/** The complete result of one photo. */
export type Reading = z.infer<typeof readingSchema>;

/**
 * Reads a stored reading back.
 * @param text - JSON text.
 * @returns The reading, checked against its schema.
 * @throws {InputError} `record-not-json` or `record-field`.
 */
export function parseReading(text: string): Reading {
  return parseStored(text, () => readingSchema);
}

/**
 * Reads a stored result back.
 * @param text - JSON text.
 * @param schemaFor - The schema that it must have, by what the text says of itself.
 * @returns The result, checked against its schema.
 * @throws {InputError} `record-not-json` or `record-field`.
 */
export function parseStored<T>(text: string, schemaFor: (name: unknown) => z.ZodType<T>): T {
  let raw: unknown;
  try {
    raw = JSON.parse(text);
  } catch {
    throw new InputError(
      'record-not-json',
      'The reading is not valid JSON.',
      'Use the file that --json wrote, unchanged.',
    );
  }
  const name = typeof raw === 'object' && raw !== null && 'schema' in raw ? raw.schema : undefined;
  const parsed = schemaFor(name).safeParse(raw);
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0];
  const field = issue === undefined || issue.path.length === 0 ? undefined : issue.path.join('.');
  const what = field === undefined ? 'The reading' : `The reading's field ${field}`;
  throw new InputError(
    'record-field',
    `${what} is not as expected: ${issue?.message ?? 'unknown problem'}.`,
    'Use the file that --json wrote, unchanged.',
    field,
  );
}
