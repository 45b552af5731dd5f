package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"flutelog/inspect/answers"
)

// promises are what the tool promises to those who work with it, each with what holds it: a test as "folder TestName", a script as
// "script name", a case of testdata/answers.txt as "answer name".
var promises = []struct {
	says   string
	heldBy []string
}{
	// The ledger.
	{"a list of last records that leads past a rejected inspection is found, and hides nothing", []string{"inspect/ledger TestHeadsOfOther", "inspect/ledger TestForgeries", "inspect/ledger TestHeads"}},
	{"a chain written anew is found by a printed head, and what no head proves is said", []string{"inspect/ledger TestRewritten", "inspect/ledger TestReplacedLines", "script ledger"}},
	{"no forged note voids what was acknowledged", []string{"inspect/ledger TestForgeries", "inspect/ledger TestNothingReadIsReplaced", "script ledger"}},
	{"a draft that is changed, cut off or deleted is found, and what is half read is listed", []string{"inspect/ledger TestDraftDamage", "inspect/ledger TestUnfinished", "inspect/ledger TestForgeries", "cmd/flutelog TestDayAtTheBoard"}},
	{"a ledger that should have records and has none is damaged", []string{"inspect/ledger TestMissingSegments", "inspect/ledger TestReadersFindCutSegments", "inspect/ledger TestForgeries", "script ledger"}},
	{"damage is fenced: other work goes on, and a torn tail heals", []string{"inspect/record TestDamageIsFenced", "inspect/ledger TestDecideDamaged", "inspect/ledger TestHistoryDamage", "script ledger"}},
	{"no clock decides between benches", []string{"inspect/ledger TestOrderIsCausal", "inspect/record TestStandingOverAllOrders", "inspect/ledger TestDecide"}},
	{"a record that is about another names it by bench, number and hash; ids are for people", []string{"inspect/record TestMergedBenches", "inspect/ledger TestAbout"}},
	{"a merge shows what would come, checks what comes, never extends the own chain, and can be left out", []string{"inspect/record TestCheck", "inspect/record TestUnreadableBodiesAreFenced", "inspect/record TestStandingLeftOut", "inspect/ledger TestMergeOldCopy", "script ledger"}},
	{"what people write is checked at one door, and nothing raw is printed", []string{"inspect/text TestCheck", "inspect/text TestShown", "script text"}},
	{"no command fails for what another process does at the time", []string{"inspect/ledger TestManyAtOnce", "inspect/ledger TestTwoWriters", "inspect/record TestRaces"}},
	{"what belongs together is one append", []string{"inspect/record TestCutAnywhere"}},
	{"what one process has read is never another record later, on a full disk either", []string{"inspect/ledger TestDiskFullAtEveryLevel", "inspect/ledger TestNothingReadIsReplaced"}},
	{"links, pipes, held locks and copied benches are refused or said at once", []string{"inspect/ledger TestHostileFolder", "inspect/ledger TestLockIsSaid", "inspect/ledger TestFork", "inspect/ledger TestRenew"}},
	{"letters, case and length of an id make no second tool", []string{"script board", "script text", "inspect/text TestFold"}},
	{"a bench's id is no number to a spreadsheet", []string{"inspect/ledger TestBenchIDsBeginWithALetter", "inspect/text TestSpreadsheet"}},

	// What stands.
	{"a crack locks at once; only one who may sign lifts it; withdrawn is final", []string{"inspect/record TestLocks", "inspect/record TestCutAnywhere", "inspect/record TestRaces", "script standing", "cmd/flutelog TestCrackStopsTheJob"}},
	{"everything shown of an inspection is as it stands, with who corrected what", []string{"inspect/record TestOneReader", "cmd/internal/papers TestPapersAreOfWhatStands", "script job", "script correct"}},
	{"a released tool that is corrected to a reject is recalled, until that is settled", []string{"inspect/record TestCorrections", "script standing"}},
	{"a withdrawn tool settles its job; a refusal names each tool and what it lacks", []string{"inspect/record TestJobs", "script job"}},
	{"a report of a job is of its tools only; an unknown job is an error", []string{"script report", "script job"}},
	{"corrections and rulings stand in the reports", []string{"script report", "inspect/report TestCSVW"}},
	{"what leads a tag or a sheet is the ruling, and nothing looks like a release that is none", []string{"inspect/paper TestTagOfWhatMayNotBeUsed", "inspect/paper TestPrinted", "cmd/internal/papers TestTwenty"}},
	{"who may use a tool on a condition is told all that does not conform", []string{"cmd/internal/papers TestConcededTellsAllThatFails"}},
	{"what a practice gauge read stands for nothing, and says so", []string{"inspect/record TestPractice", "cmd/internal/papers TestTwenty", "cmd/flutelog/internal/bench TestInventedReadingsAreKnownByTheirPort"}},
	{"a second release is refused, and all rulings are shown", []string{"inspect/record TestRulings", "script job"}},
	{"where a bench knows people only they sign, and an inspection that found a crack is conceded by nobody", []string{"script signs"}},
	{"a program is told in one dialect, in the unit in force", []string{"cmd/flutelog/internal/output TestEverySurfaceSaysTheSameAnswer"}},
	{"no behaviour hangs on the words of a limit's source", []string{"inspect/answers TestTheSourceOfALimitDecidesNothing"}},
	{"the readings report holds every inspection, wherever its records lie", []string{"inspect/report TestReadingsOfAllInspections", "inspect/report TestReadingsReport"}},
	{"each figure that a person acts on is held by a test outside its package", []string{"cmd/flutelog TestToldOfTheKeptLedger", "inspect/answers TestEveryRuleIsHeld"}},
	{"a kept ledger is told the same by every later version", []string{"cmd/flutelog TestToldOfTheKeptLedger", "cmd/flutelog TestToldInWords", "inspect/export TestKeptLedger"}},
	{"a sight is corrected as a reading is, its flute and its length with it, and old and new are echoed", []string{"script standing", "script job", "script correct", "cmd/flutelog/internal/page TestCorrectASight"}},
	{"a correction puts right what was read and nothing else: how, with what and by what step it was read stays", []string{"script correct"}},

	// The master's answer.
	{"what is over decides; a gap never says none, go on or release", []string{"answer three worn flutes and one not read", "answer between, over half with one unread", "answer after, out with one unread", "inspect TestMissingFlutesAreNamed", "inspect TestStepNotStatedHidesNoReject", "inspect/words TestHeadlineKnowsWhatWasReadInPart"}},
	{"run-out alone releases nothing, and what nobody looked at is listed first", []string{"answer run-out alone", "answer after, run-out alone", "answer after, sights left out", "inspect/words TestWhatIsOpenIsNamed"}},
	{"a tool that is told as ground and reads as it was is not taken for ground", []string{"inspect TestReadingsTellWhetherItWasGround", "script untouched"}},
	{"a heel that rubs is never called done", []string{"answer between, the heel rubs", "inspect/geometry TestClearance", "script stock"}},
	{"a negative drop or dish is recorded and rejected", []string{"answer after, a climb on one flute", "answer after, the center stands proud"}},
	{"a drop read past the heel is not judged", []string{"answer after, the drop read past the heel"}},
	{"the checking distance is the handbook's by diameter, and stands wherever a drop does", []string{"inspect/answers TestCheckingDistance", "inspect/answers TestReliefLimitsAreTheHandbooks"}},
	{"taper and shank run-out are judged", []string{"answer after, tapered", "answer after, the shank runs out"}},
	{"a diameter that grew is held until it is read again", []string{"answer after, larger than before", "answer after, larger than before, read twice alike"}},
	{"a primary that has vanished is ground again", []string{"answer after, the primary has vanished", "answer after, the primary just at its least"}},
	{"the diameter after counts wear once, from what was read last", []string{"inspect/geometry TestWornTeeth", "inspect TestDiameterOverTheLast", "script stock"}},
	{"infeed, shares and diameter of worn teeth are those of lines and circles", []string{"inspect/geometry TestWornTeeth", "inspect/geometry TestRandomToolsAgainstConstruction", "script stock"}},
	{"wear wider than the primary is reckoned with", []string{"inspect/geometry TestWornTeeth", "script stock"}},
	{"off centre and sharp is reseated; a burred shank is stoned; sharp over the half is the secondary alone", []string{"answer off centre in the fixture, sharp", "answer a burred shank, and run-out over it", "answer sharp, with a wide primary", "answer after, a burr on the shank"}},
	{"each kind of tool has its own steps", []string{"inspect TestKinds", "inspect TestStepsOfKinds", "script tool_kind", "script setup_kinds"}},
	{"the order of grinding is asked, and used", []string{"inspect/desk TestHowItWasGround", "inspect TestCauseGoesByWhatWasTold", "script ground"}},
	{"left-hand tools are the mirror of right-hand ones", []string{"inspect/geometry TestHandsMirror", "inspect TestJudgementMirrors"}},
	{"a burn before the grind is ground out and looked for again; after it the tool is locked", []string{"answer burnt in the work, sharp", "answer after, a burn to be looked for again"}},
	{"a chipped corner and a chipped edge are two questions, and the chip's length is the cut", []string{"answer a chipped corner", "answer a chipped edge far up the flute"}},
	{"limits are those of the tool's size", []string{"inspect TestSizeClass", "inspect/answers TestLimitsScale", "inspect/answers TestReliefLimitsAreTheHandbooks"}},
	{"the limit in force is said, never the usual one", []string{"answer the bench's own share", "inspect/words TestEverythingIsSaidInTheReadersUnit"}},
	{"over the speed marked on the wheel is said, with a status of its own", []string{"script setup"}},
	{"a note stands where it bears on the answer", []string{"inspect/words TestBriefIsThereForAll", "inspect/answers TestRulesOfAdvice"}},
	{"an odd number of flutes is asked how its diameter was read", []string{"inspect/desk TestOddFlutes", "inspect TestOddDiameter"}},
	{"turned or slid is kept with a drop, and reckoned so", []string{"answer after, the drop slid", "answer after, the same drop turned"}},
	{"a drop that turning by eye cannot settle is slid, and said so", []string{"inspect/desk TestSlidWhereTurningSettlesNothing", "inspect/desk TestSlideInstead", "cmd/flutelog TestReadmeScreens"}},
	{"what was read in the fixture is true in the fixture only", []string{"answer after, true in the fixture and not to the shank", "inspect/words TestTrueInTheFixtureOnly"}},
	{"a regrind is a route of steps in order", []string{"inspect TestStepIsSetUp", "cmd/flutelog/internal/hand TestRouteIsAStepAPage", "inspect TestBeforeEndsInThePlan"}},

	// The numbers.
	{"what a simulation from outside finds wrongly accepted or rejected is what is stated", []string{"inspect/statistics TestSimulatedTIR", "inspect/statistics TestSimulatedStopping", "inspect/statistics TestDriftIsTakenOut", "inspect/statistics TestReseatedByHand", "inspect/statistics TestHoldingByHand"}},
	{"a misreading is named, sweeps are taken at a natural pace, a chart in control keeps still", []string{"inspect/statistics TestSimulatedSuspect", "inspect/geometry TestSweepAtANaturalPace", "inspect/trend TestBudgetOfFalseAlarms", "inspect/trend TestFixedLimits"}},

	// At the desk.
	{"a bare whole number is no reading, and a scan or a burst is one line", []string{"inspect/desk TestRefusals", "inspect/desk TestBurstIsOneLine", "cmd/flutelog/internal/page TestPageRefusesBareNumbers"}},
	{"a plain good tool takes at most 215 keys, and 30 lines with a gauge; rounds only while needed", []string{"cmd/flutelog TestFewestKeys", "cmd/flutelog TestFewestLinesWithAGauge", "inspect/desk TestRoundsWhileNeeded"}},
	{"a prompt says where and how, what to expect, what it was last time and the TIR so far", []string{"cmd/flutelog/internal/hand TestLimitIsToldWhole", "inspect/desk TestDrops", "cmd/flutelog/internal/page TestPagePromptSaysAll"}},
	{"the answer stands whole on one screen, and cautions once a sitting", []string{"cmd/flutelog/internal/terminal TestScreensFit", "inspect/desk TestCautionsOnceASitting"}},
	{"all readings stand on one screen before the close, and any is picked again", []string{"inspect/desk TestOpenThingsBeforeTheClose", "inspect/desk TestAnyReadingIsPickedAgain", "cmd/flutelog/internal/page TestPagePicksAReading"}},
	{"what a tool room types is taken, words in any case", []string{"script tool", "inspect/length TestEntryTakes", "inspect/length TestEntryAsks", "cmd/flutelog/internal/page TestPageTakesShopNumbers"}},
	{"what is refused is refused in shop words", []string{"cmd/flutelog/internal/bench TestShopWords", "inspect/desk TestRandomConversations"}},
	{"one way for all keys, and a bare Enter answers nothing that was not seen", []string{"inspect/desk TestSettle", "inspect/desk TestBackspaceAndBack"}},
	{"a switched gauge is said with what to press, and typed readings stay typed ones", []string{"inspect/desk TestSwitchedUnitTaken", "inspect/desk TestTypedWhileAway", "cmd/flutelog/internal/page TestPageSaysASwitchedUnit"}},
	{"on the page a tap answers once, a refused form comes back, each signs as themselves, and several are in hand", []string{"cmd/flutelog/internal/page TestPageDoubleTap", "cmd/flutelog/internal/page TestARefusedFormComesBack", "cmd/flutelog/internal/page TestSignsAsThemselvesOnly", "cmd/flutelog/internal/page TestPageSeveralInHand", "cmd/flutelog/internal/page TestRecordPagesCanBeUsed"}},
	{"an unusual order of flutes is explained once", []string{"cmd/flutelog/internal/page TestPageExplainsTheOrder"}},

	// Board, paper, charts.
	{"a stranger's questions are answered by one command each", []string{"script board", "cmd/flutelog TestDayAtTheBoard"}},
	{"a customer gets one page a job, a row a tool", []string{"cmd/internal/papers TestCertificate", "inspect/paper TestPrinted"}},
	{"a tag says the diameter, what changed since, and the inspection", []string{"cmd/internal/papers TestTagSaysWhatToEnter", "inspect/paper TestPrinted"}},
	{"a drawing is of what was measured and of what decided", []string{"cmd/internal/papers TestDrawnAsMeasured", "inspect/draw TestEndRingsWhatDecided", "inspect/draw TestSectionIsToScale"}},
	{"a diameter has a life and no control chart; limits never lie below zero", []string{"inspect/draw TestLife", "cmd/flutelog/internal/trends TestLifeLeft", "inspect/trend TestChartEdges", "inspect/trend TestLifeTextAndPlainFigures", "script trend"}},
	{"tools are found on a phone, whatever their ids", []string{"cmd/flutelog/internal/page TestToolsAreFound", "cmd/flutelog/internal/page TestRecordPagesCanBeUsed"}},
	{"version, completion, manual page, many tools at once, many releases at once", []string{"script board", "script job", "cmd/flutelog/internal/page TestReleaseOfMany"}},
	{"a report is taken by a spreadsheet and a database as it is", []string{"inspect/report TestInASpreadsheet", "inspect/report TestInSQLite", "inspect/report TestCSVW"}},

	// Many benches.
	{"a bench records for three weeks without a network, and all of it is at the register when it comes back", []string{"cmd/fluteregister TestThreeWeeksWithoutANetwork", "cmd/fluteregister TestShop"}},
	{"a lock, a recall or a withdrawal that was recorded anywhere holds here", []string{"script elsewhere", "inspect/register TestAsk"}},
	{"a fork stops nobody, and which copy is the bench a person says", []string{"cmd/fluteregister TestWhichCopy", "cmd/fluteregister/internal/store TestFork", "inspect/register TestFork", "script register_fork"}},
	{"a lost bench and a lost database come back byte for byte", []string{"cmd/fluteregister TestLostBench", "cmd/fluteregister TestLostDatabase", "inspect/register TestRestore"}},
	{"what the register acknowledged is never lost, killed at any moment", []string{"cmd/fluteregister TestKills", "cmd/fluteregister TestKillsFindTheHasty"}},
	{"the register's report is the benches', byte for byte", []string{"cmd/fluteregister/internal/store TestReportIsTheBenchs", "cmd/fluteregister/internal/web TestReportIsTheBenches"}},
	{"each page of the register is for the roles that its table names", []string{"cmd/fluteregister/internal/web TestAccess", "cmd/fluteregister/internal/web TestSignIn"}},

	// The code.
	{"what a package imports is its place, and main is thin", []string{"cmd/flutelog TestImportsAreThoseOfTheTable", "cmd/flutelog TestMainStaysThin"}},
	{"one thing is said once, and every surface says the same", []string{"cmd/flutelog/internal/output TestEverySurfaceSaysTheSameAnswer", "cmd/internal/papers TestPapersSayTheSameAnswer", "cmd/flutelog/internal/page TestPageSaysTheSameAnswer"}},
	{"a limit is a row of one table", []string{"cmd/flutelog/internal/bench TestEveryLimitCanBeStated"}},
	{"a record's body is decoded in one place, and what it holds is checked there", []string{"inspect/record TestWrongBodies", "inspect/record TestCheck"}},
	{"a package that may be used alone has an example that runs", []string{"device Example", "inspect ExampleJudge", "inspect/record Example", "inspect/statistics Example", "inspect/geometry ExampleRelief", "inspect/desk Example"}},
	{"what was recorded plays back to the same, and steps that are left over are said", []string{"inspect/desk TestRandomConversations", "cmd/flutelog/internal/page TestPlaybackGivesEqualLedgers", "script record_play", "device TestPlayLeftOver"}},
}

// Every promise is held by something that is there.
func TestPromisesAreHeld(t *testing.T) {
	const top = "../.."
	cases, err := answers.Read(filepath.Join(top, "testdata/answers.txt"))
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, c := range cases {
		there["answer "+c.Name] = true
	}
	scripts, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range scripts {
		there["script "+strings.TrimSuffix(filepath.Base(s), ".txtar")] = true
	}
	read := map[string]bool{}
	for _, p := range promises {
		if len(p.heldBy) == 0 {
			t.Errorf("%q: nothing holds it", p.says)
		}
		for _, by := range p.heldBy {
			folder, _, _ := strings.Cut(by, " ")
			if folder != "answer" && folder != "script" && !read[folder] {
				read[folder] = true
				for _, name := range testsIn(t, filepath.Join(top, folder)) {
					there[folder+" "+name] = true
				}
			}
			if !there[by] {
				t.Errorf("%q: there is no %s", p.says, by)
			}
		}
	}
}

// testsIn returns the tests and examples of a folder.
func testsIn(t *testing.T, folder string) []string {
	t.Helper()
	files, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(folder, f.Name()), nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && f.Recv == nil && (strings.HasPrefix(f.Name.Name, "Test") || strings.HasPrefix(f.Name.Name, "Example")) {
				names = append(names, f.Name.Name)
			}
		}
	}
	return names
}
