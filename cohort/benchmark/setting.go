package benchmark

import (
	"fmt"
	"strings"
)

// Setting says what kind of source a series comes from.
type Setting uint8

const (
	SettingNotSaid Setting = iota
	NationalRegister
	SeveralRegisters
	RegionalRegister
	Records // of hospitals or practices, not a register of joints
	SeveralCentres
	OneCentre
	OneSurgeon
	Trial
	PooledStudies
	Guidance
	settings
)

var settingNames = [...]string{"", "national register", "several registers", "regional register", "records", "several centres",
	"one centre", "one surgeon", "trial", "pooled", "guidance"}

func (s Setting) String() string {
	if s < settings {
		return settingNames[s]
	}
	return fmt.Sprintf("Setting(%d)", uint8(s))
}

// ParseSetting reads a setting: national register, several registers, regional
// register, records, several centres, one centre, one surgeon, trial, pooled or
// guidance. Nothing is [SettingNotSaid].
func ParseSetting(s string) (Setting, error) {
	folded := strings.ReplaceAll(fold(s), "registry", "register")
	for i, name := range settingNames {
		if folded == name {
			return Setting(i), nil
		}
	}
	return 0, fmt.Errorf("no setting %s, want one of: %s", quote(s), strings.Join(settingNames[1:], ", "))
}
