// Package audit makes one audit of an outcomes table: what was read and set
// aside, cumulative revision by group, and the comparison with published
// figures, as plain data. Text tables, files and figures are made from it and
// compute nothing of their own.
//
//	c, err := cohort.Read(ctx, sources, cohort.Options{})
//	a, err := audit.Run(c, audit.Options{})
//	err = audit.WriteCSV(os.Stdout, a)
//
// # Groups
//
// Joint and procedure always separate the audit: nothing is pooled across
// them. Within each stand first all joints, then each field asked for by
// itself with the others pooled, then the cells of all fields that occur.
//
// # Rows
//
// A group has a row for each year asked for, and for each at which a published figure
// stands beside it: [Group.Rows]. An audit of thousands of surgeons over many years would
// be mostly these. Those of a group with nothing published beside it are then made when
// they are asked for, and forgotten: who needs them several times should keep them.
//
// # Notes
//
// A row's notes are fixed codes:
//
//	beyond follow-up            nobody was followed that long: own values are empty
//	no events                   no revision so far; limits from the number seen to that time
//	few at risk                 fewer at risk than the floor
//	everybody failed            every joint at risk was revised; limits of the beta product
//	last observation an event   the curve ends in a revision, on very few joints
//	deaths not recorded         the unknown dead stay at risk: the estimates come out too low
//	no own value                there is no own estimate of the published figure's kind
//	published limits rounded    the published limits equal the figure: treated as absent
//	rounding only               no published error is known but rounding, in the difference
//	published error unknown     nor is there a number of joints: the reading rests on rounding alone
//	published error at least that of its joints  the least error the published figure can have is read with
//	made from numbers at risk   published limits are made from published numbers at risk
//	fewer than 10 at risk       nothing is read from fewer
//	zero revised could not read below  so few at risk that not even none revised would
//	published limits reach 0    nothing can read below
//	other level                 the published limits have another level: no difference limits
//	near the line               the printed difference limits would read otherwise, and it could
//	rounding leaves the reading open  too few to say, since what the rounded numbers can stand for reads otherwise (package disclose)
//	diagnosis not recorded: taken as osteoarthritis  no table has a diagnosis, and the series is of osteoarthritis (in comparisons)
//	rounded for sharing         numbers of the row are rounded, or made from rounded ones (package disclose)
package audit
