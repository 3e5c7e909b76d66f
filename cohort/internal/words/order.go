package words

import (
	"slices"
	"strings"
)

var hipBearings = []string{
	"metal-on-polyethylene", "metal-on-crosslinked-polyethylene",
	"ceramic-on-polyethylene", "ceramic-on-crosslinked-polyethylene",
	"ceramic-on-ceramic", "metal-on-metal", "ceramic-on-metal",
	"ceramicised-metal-on-polyethylene", "ceramicised-metal-on-crosslinked-polyethylene",
	DualMobility,
}

var orders = map[string][]string{
	ColumnJoint:     {Hip, Knee, "shoulder", "elbow", "wrist", "ankle"},
	ColumnSide:      {Left, Right, Bilateral},
	ColumnSex:       {Female, Male},
	ColumnProcedure: {Total, Resurfacing, Unicompartmental, Patellofemoral, Hemiarthroplasty},
	ColumnBearing:   append(slices.Clone(hipBearings), FixedBearing, MobileBearing),
	ColumnHead:      {Metal, Ceramic, CeramicisedMetal},
	ColumnLiner:     {PlainPolyethylene, CrosslinkedPE, Ceramic, Metal, DualMobility},

	ColumnPolyethylene:  {Conventional, Crosslinked},
	ColumnFixation:      {Cemented, Porous, Hybrid, ReverseHybrid},
	ColumnCupFixation:   {Cemented, Porous},
	ColumnStemFixation:  {Cemented, Porous},
	ColumnTibiaFixation: {Cemented, Porous},
	ColumnFemurFixation: {Cemented, Porous},
	ColumnOperationType: {Primary, Revision, Reoperation},
	ColumnRevised:       {Yes, No},
	ColumnDead:          {Yes, No},
	ColumnRevisionReason: {
		Infection, AsepticLoosening, Lysis, Dislocation, PeriprostheticFracture, Wear, MetalReaction, ComponentFracture,
		Malposition, Pain, Stiffness, DiseaseProgression, PatellarProblem, LegLength, OtherReason,
	},
}

// Order returns the canonical values of a column in the order in which groups
// are shown, or nil for a column without any. The caller may change it.
func Order(column string) []string { return slices.Clone(orders[column]) }

func lower(s string) string { return strings.ToLower(Clean(s)) }
