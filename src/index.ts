/**
 * stillband measures the ringing on a photographed 3D-print test tower.
 *
 * ```ts
 * const record = parsePrintRecord(await readFile('tower.print.json', 'utf8'));
 * const reading = await measurePhoto(await readFile('tower.jpg'), record);
 * if (reading.proposal.state === 'proposed') use(reading.proposal.frequencyHz);
 * else if (reading.proposal.state === 'refused') tell(reading.proposal.reason, reading.proposal.advice);
 * ```
 */
export { checkPhoto, partlyTold, type CheckOptions } from './checkPhoto.js';
export { aboutPhoto, InputError, type InputErrorCode } from './core/errors.js';
export type { Estimate, Interval } from './core/estimate.js';
export type { EarlierHz } from './band/sinceThen.js';
export type { Hz, Mm, MmPerS, MmPerS2, Px, Seconds } from './core/units.js';
export type { ColourImage, GreyImage, PointPx } from './core/image.js';
export type { HeatRow } from './core/heatRow.js';
export type { PhotoMarks } from './face/photoMarks.js';
export { REFUSAL_REASONS, type RefusalReason } from './core/outcome.js';
export {
  measureForPicture,
  measurePhoto,
  type HeightView,
  type MeasureOptions,
  type Measurement,
  type ReadingView,
} from './measurePhoto.js';
export {
  measureTogether,
  measureTogetherForPicture,
  type JointMeasurement,
  type PhotoToJoin,
  type TogetherOptions,
} from './measureTogether.js';
export {
  applyOverrides,
  optionName,
  RECORD_FLAGS,
  type RawObject,
  type RecordFlag,
} from './print/overrides.js';
export {
  examineJob,
  type ExamineOptions,
  type JobFace,
  type JobFinding,
  type JobReading,
  type SpeedElsewhere,
} from './job/examineJob.js';
export {
  planWeave,
  type Insertion,
  type LayerRange,
  type Limit,
  type WeavePlan,
  type WeaveRequest,
} from './job/planWeave.js';
export { type JobFile, type JobFrequencies, type JobLayers } from './job/readJob.js';
export type { ExtruderWay } from './job/printedMoves.js';
export type { LayerFrequency } from './job/readLadder.js';
export type { Chunks } from './job/readLines.js';
export type { JobSide, PathSlot, SeamPlace, SpeedBand } from './job/sides.js';
export type { ReachedSpeed } from './physics/straightMove.js';
export type { Placeholder } from './job/template.js';
export { weave } from './job/weave.js';
export {
  jobReport,
  jobSections,
  WEAVE_CAUTIONS,
  weaveReport,
  weaveSections,
  type JobSections,
} from './report/jobReport.js';
export {
  PLACEHOLDER_HELP,
  READ_FIELDS,
  readOptions,
  recordToFill,
  recordToWeave,
  WEAVE_FIELDS,
  weaveOptions,
  type JobField,
  type JobTexts,
} from './told/jobNeeds.js';
export { faultsIn, readPrintRecord } from './print/readPrintRecord.js';
export {
  parsePrintRecord,
  parseRecordJson,
  printRecordSchema,
  type PrintRecord,
  type RecordUse,
} from './print/record.js';
export { photoCheckSchema, type PhotoCheck } from './reading/checkSchema.js';
export {
  compareReadings,
  expectAlike,
  type AmplitudeChange,
  type CompareOptions,
  type ComparedSide,
  type Comparison,
  type ProofChange,
  type ProofStep,
} from './history/compareReadings.js';
export { afterSteps, type AfterSteps } from './decide/afterSteps.js';
export type { AxisMode, NoMode } from './decide/axisMode.js';
export {
  decideShapers,
  type ChosenAcceleration,
  type ChosenAxis,
  type DecideLimits,
  type DecideSpeeds,
  type MissingLimit,
  type ShaperDecision,
  type ShaperOption,
  type UndecidedAxis,
} from './decide/decideShapers.js';
export type { ProofLadder, ProofStep as PlannedStep } from './decide/proofLadder.js';
export type { AxisSpan, FittedShaper, ShaperSetting } from './decide/shaperOption.js';
export { SHAPER_FAMILIES, type ShaperFamily } from './physics/shapers.js';
export type { Span } from './physics/quietBand.js';
export type { CornerMotion } from './physics/cornerMotion.js';
export type { ShapedCorner } from './physics/shapedCorner.js';
export type { Narrowing } from './reading/advice.js';
export { afterReport, afterSections, type AfterSections } from './report/afterReport.js';
export { chartsOfAxis, drawDecision } from './report/decidePicture.js';
export {
  DECIDE_CAUTIONS,
  decideReport,
  decideSections,
  missingWords,
  type DecideSections,
} from './report/decideReport.js';
export { singleReadings, type AxisPoint } from './history/axisPoint.js';
export type { Change } from './history/change.js';
export { axisTrends, type AxisTrend, type HistoryEntry } from './history/axisTrends.js';
export type { TrendInput, TrendPoint, TrendState } from './history/trend.js';
export { trendAdvice, trendReport, trendRows, trendVerdict, type TrendRow } from './report/trendReport.js';
export { EXCHANGED } from './report/pairWords.js';
export { drawTrends, MOST_TRENDS, trendFigure } from './report/trendPicture.js';
export { compareReport, compareSections, SPAN, type CompareSections } from './report/compareReport.js';
export { comparisonFigure, drawComparison } from './report/comparePicture.js';
export {
  anyReadingOf,
  jointReadingSchema,
  parseAnyReading,
  type AnyReading,
  type JointReading,
} from './reading/jointSchema.js';
export { parseReading, readingSchema, type Reading } from './reading/schema.js';
export { WARNING_CODES, type WarningCode } from './reading/warnings.js';
export type { HeightSpectrum } from './ripple/heightSpectra.js';
export type { FittedProfile } from './ripple/jointFit.js';
export { checkReport } from './report/checkReport.js';
export type { FoundData } from './report/charts/found.js';
export type { HeatData } from './report/charts/heatMap.js';
export { heightsCsv } from './report/csv.js';
export { jointReport } from './report/jointReport.js';
export { cardPdf, cardSvg, makeCard, type CardOptions, type MarkerCard } from './drawCard.js';
export { cardReport, type DrawnCard } from './report/cardReport.js';
export type { WrittenFile } from './report/replacedWords.js';
export { CARD_SIZES, type CardSize } from './report/markerCard.js';
export type { Drawing, Place, Shape } from './report/drawing.js';
export {
  makePlan,
  type EarlierAxis,
  type Expected,
  type Plan,
  type PlanNeeds,
  type PlanNote,
  type PlanOption,
} from './planning/makePlan.js';
export { makeTower, towerOf, type TestTower, type TowerShape } from './drawTower.js';
export { PLAN_FIELDS, planNeeds, type PlanField, type PlanTexts } from './told/planNeeds.js';
export { towerReport, towerWords, type DrawnTower, type TowerWords } from './report/towerReport.js';
export { earlierAxis } from './planning/earlier.js';
export { drawChecklist } from './report/checklist.js';
export { planReport, planWords, type PlanWords } from './report/planReport.js';
export type { CardCode } from './print/cardCode.js';
export type { CardRead } from './print/cardRead.js';
export { readCard, surveyPhoto, viewPhoto, type PhotoSurvey } from './readCard.js';
export { qrCells } from './imaging/qrCode.js';
export { inkStyle } from './report/charts/inkStyle.js';
export { assumedWhereEmpty } from './told/assumedWhereEmpty.js';
export { readWas } from './told/readWas.js';
export { LIMIT_FIELDS, readLimits, type LimitField } from './told/toldLimits.js';
export {
  toldToCheck,
  toldToMeasure,
  type TellingOfPrint,
  type ToldToCheck,
  type ToldToMeasure,
} from './told/toldOfPrint.js';
export { drawReading, pictureOf } from './drawReading.js';
export {
  makePairSheet,
  makeSheet,
  sheetOf,
  sheetPdf,
  sheetSubject,
  type MeasuredForSheet,
} from './makeSheet.js';
export { sheetHtml } from './report/sheet/sheetHtml.js';
export { PAPERS, type Paper } from './report/paper.js';
export type { LogbookPlace, PicturesFrom } from './report/sheet/provenance.js';
export type { SheetPictures, SheetSubject } from './report/sheet/drawSheet.js';
export type { Sheet, SheetFigure, SheetSection, SheetSide } from './report/sheet/sheet.js';
export type { Row } from './report/recordRows.js';
export { textReport } from './report/textReport.js';
export { entrySchema, type Entry, type EntryPhoto, type EntryResult } from './logbook/entry.js';
export type { EntryLine } from './logbook/entryLine.js';
export { formatHead, parseHead, type Head } from './logbook/head.js';
export { listEntries, logbookHead } from './logbook/listEntries.js';
export {
  entryOrDamage,
  readEntry,
  readPair,
  storedEntries,
  storedPhoto,
  type DamagedEntry,
  type StoredEntry,
} from './logbook/readEntry.js';
export type { PairToSave } from './logbook/savePair.js';
export { logbookTrends, pairEntries, readingOfEntry, type LogbookTrends } from './logbookTrends.js';
export { sheetOfEntry, type EntrySheet } from './sheetOfEntry.js';
export {
  saveNote,
  saveReading,
  type NoteToSave,
  type PhotoToSave,
  type ReadingToSave,
} from './logbook/saveReading.js';
export type { Difference } from './core/differences.js';
export { exportArchive } from './logbook/exportArchive.js';
export { replayLogbook, withReplay, type Replay, type Replayed } from './replayLogbook.js';
export type { Finding, HeadVerdict, Verification } from './logbook/verify.js';
export { verifyLogbook } from './logbook/verifyLogbook.js';
export { checkLogbookPlace, expectOutside } from './logbook/place.js';
export type { Written } from './logbook/writeEntry.js';
export { headLine, logbookList, logbookRow, remarkOf, verdictOf } from './report/logbookList.js';
export {
  entryReport,
  exportedReport,
  pairReport,
  replayReport,
  savedReport,
  sheetReport,
  storedReport,
  verifyReport,
  type ReplayToTell,
} from './report/logbookReport.js';
export { VERSION } from './version.js';
