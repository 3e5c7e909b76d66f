package audit_test

import (
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
)

// What bears on every estimate is said, with the number revised as it would be.
func TestNotesOnRowsNotCounted(t *testing.T) {
	const headings = "patient,joint,side,operation_type,procedure,operation_date\n"
	const three = "a,hip,left,P,THR,2012-01-01\nb,hip,left,P,THR,2012-01-01\nb,hip,left,R,,2013-01-01\n"
	for _, test := range []struct {
		name, rows string
		want       []string
		not        string
	}{
		{"nothing", three, nil, "not counted"},
		{"without their primary", three + "c,hip,left,R,,2013-01-01\nc,hip,left,R,,2014-01-01\nd,hip,,R,,2013-01-01\n",
			[]string{"3 revisions that stand in rows of their own are not counted, because they could not be joined to a joint in use: 2 whose primary is not in the table, 1 without patient, joint or side.",
				"If each belonged to a joint in the table, the number revised would be up to 3 instead of 1."}, "operation type"},
		{"one", three + "a,hip,left,R,,2011-01-01\n",
			[]string{"1 revision that stands in a row of its own is not counted, because it could not be joined to a joint in use: 1 before the primary of the joint.",
				"up to 2 instead of 1"}, "operation type"},
		{"a type nobody knows", three + "a,hip,left,X7,THR,2013-01-01\nc,hip,left,X7,THR,2013-01-01\n",
			[]string{"2 rows are set aside because the operation type is not understood", "[words.operation_type]",
				"1 joint that is not revised stands in the table a second time", "the number revised would be 2 instead of 1"}, "not counted,"},
		{"after the closing date", three + "c,hip,left,P,THR,2024-01-01\nd,hip,left,P,THR,2024-01-01\n",
			[]string{"2 operations are after the closing date " + testaudit.Closing(t).String() + " and set aside. If the table has grown since that date was given, move it."}, "not counted"},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := testaudit.Run(t, testaudit.Read(t, headings+test.rows, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{})
			said := strings.Join(a.Notes, "\n")
			for _, want := range test.want {
				if !strings.Contains(said, want) {
					t.Errorf("%q is not in\n%s", want, said)
				}
			}
			if strings.Contains(said, test.not) {
				t.Errorf("%q is in\n%s", test.not, said)
			}
		})
	}
}
