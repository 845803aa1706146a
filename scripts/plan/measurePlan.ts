import { InputError } from '../../src/core/errors.js';
import { makePlan, type Plan, type PlanNeeds } from '../../src/planning/makePlan.js';
import { predictUncertainty } from '../../src/planning/predict.js';
import { settlePrint } from '../../src/print/settle.js';
import { drawnCase, measurePlaced } from '../../test/helpers/drawn.js';
import { plannedCase, someMachine } from '../../test/synth/planned.js';
import { truthOf } from '../../test/synth/truth.js';

/** Of both routes and of both together, Hz. */
interface Routes {
  readonly combined: number;
  readonly fromNull: number;
  readonly fromSpacing: number;
}

/** One plan, made by the tool, drawn as planned and measured. Plain data. */
export interface PlanOutcome {
  readonly seed: number;
  /** `proposed`, or the reason why not. */
  readonly state: string;
  /** Standard uncertainty that the plan tells in the middle of its range. */
  readonly toldSdHz: number;
  /** Of a proposal. */
  readonly measured?: {
    /** Standard uncertainties that the plan would tell of this very axis; absent where it says that it is not shown. */
    readonly predicted: Routes | undefined;
    /** Standard uncertainties of the reading. */
    readonly stated: Routes;
    /** Value less truth. */
    readonly errors: Routes;
  };
}

/**
 * Plans a tower for some machine, draws its face as it would come out, and measures it.
 * @param seed - Which machine.
 */
export async function measurePlan(seed: number): Promise<PlanOutcome> {
  const machine = someMachine(seed);
  const needs: PlanNeeds = {
    axes: ['X', 'Y'],
    maxAccelerationMmPerS2: machine.maxAccelerationMmPerS2,
    maxSpeedMmPerS: machine.maxSpeedMmPerS,
    cornerSpeedMmPerS: machine.cornerSpeedMmPerS,
    layerHeightMm: machine.layerHeightMm,
    nozzleMm: machine.nozzleMm,
    bedMm: [machine.bedMm, machine.bedMm],
    ...(machine.ideaHz === undefined ? {} : { ideaHz: [machine.ideaHz] }),
  };
  const { naturalHz, dampingRatio } = machine;
  let plan: Plan;
  try {
    plan = makePlan(needs);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { seed, state: error.code, toldSdHz: Infinity };
  }
  const record = plan.records[0]!;
  const { settings } = settlePrint(record);
  const { ladder } = record;
  if (ladder.kind !== 'linear') throw new Error('Expected a linear ladder.');
  const one = plannedCase(
    {
      widthMm: plan.tower.widthMm,
      heightMm: plan.tower.heightMm,
      layerHeightMm: machine.layerHeightMm,
      speedMmPerS: plan.speedMmPerS,
      accelerationMmPerS2: plan.accelerationMmPerS2,
      cornerSpeedMmPerS: machine.cornerSpeedMmPerS,
      fromHz: ladder.fromHz,
      toHz: ladder.toHz,
      firstLayer: ladder.firstLayer!,
      lastLayer: ladder.lastLayer!,
      shaperDampingRatio: settings.shaper.dampingRatio,
      pxPerMm: plan.photo.pxPerMm,
      cameraWidths: plan.photo.distanceMm / plan.tower.widthMm,
    },
    machine,
    seed,
  );
  const predicted = predictUncertainty(settings, { naturalHz, dampingRatio }, one.recipe.pxPerMm);
  const { proposal } = measurePlaced(await drawnCase(one)).decision;
  const toldSdHz = plan.expected[1].sdHz ?? Infinity;
  if (proposal.state !== 'proposed') {
    return { seed, state: proposal.state === 'refused' ? proposal.reason : proposal.state, toldSdHz };
  }
  const { nullHz } = truthOf(one.recipe);
  const of = (part: (route: keyof Routes) => number): Routes => ({
    combined: part('combined'),
    fromNull: part('fromNull'),
    fromSpacing: part('fromSpacing'),
  });
  return {
    seed,
    state: proposal.state,
    toldSdHz,
    measured: {
      predicted: predicted && of((route) => predicted[route].sd),
      stated: of((route) => proposal[route].sd),
      errors: of((route) => proposal[route].value - nullHz),
    },
  };
}
