package cli

// commands lists every command in the order --help shows them. To add one,
// write its struct and Run(*App) error in a file cmd_<name>.go and give it a
// line here.
type commands struct {
	Shelf     shelfCmd     `cmd:"" help:"List the units on the shelf."`
	Unit      unitCmd      `cmd:"" help:"Show, add, change, remove or quarantine a unit."`
	Identify  identifyCmd  `cmd:"" help:"Find out which pin is what, and which reading to take next."`
	Reading   readingCmd   `cmd:"" help:"Add, list or correct readings."`
	Meter     meterCmd     `cmd:"" help:"Add or list meters."`
	Photo     photoCmd     `cmd:"" help:"Attach, list, mark or remove photos of a unit."`
	Hookup    hookupCmd    `cmd:"" help:"List or remove stored hookups."`
	Need      needCmd      `cmd:"" help:"List or remove stored needs."`
	Find      findCmd      `cmd:"" help:"Find hookups that meet a need, best first, and the near misses."`
	Match     matchCmd     `cmd:"" help:"Say which windings may share a load, and what mends a mismatch."`
	Predict   predictCmd   `cmd:"" help:"Predict every reading of a hookup."`
	Supply    supplyCmd    `cmd:"" help:"Predict a rectified output, or work a DC supply out for a need."`
	Limits    limitsCmd    `cmd:"" help:"Say what a hookup may be asked for: for ever, for a part of the time, on AC and DC."`
	Switchon  switchonCmd  `cmd:"" help:"Say what a hookup draws when it is switched on, at the worst point on the wave or any, and whether its fuses carry it."`
	Waves     wavesCmd     `cmd:"" help:"Say how the currents, volts and fluxes of a hookup run, and what meters make of them."`
	Fault     faultCmd     `cmd:"" help:"Follow a slip in time, until a fuse opens, a winding is too hot, or nothing more happens."`
	Lamp      lampCmd      `cmd:"" help:"Say which lamp to put in series with a unit for its first power, and what the glow tells."`
	Heatrun   heatrunCmd   `cmd:"" help:"Judge a heat run: how hot a winding gets in the end, when to read next, and what that allows."`
	Prove     proveCmd     `cmd:"" help:"Prove a hookup step by step, or judge what was read."`
	Proof     proofCmd     `cmd:"" help:"List or show the proofs in the store."`
	Serve     serveCmd     `cmd:"" help:"Open the bench in the browser."`
	Sheet     sheetCmd     `cmd:"" help:"Set a hookup's bench sheet on paper, with its steps to fill in or the readings taken."`
	Label     labelCmd     `cmd:"" help:"Set the label of a unit or of a finished supply."`
	Teach     teachCmd     `cmd:"" help:"Make one HTML file of a hookup for pupils: they move leads and see what the meter would read."`
	Restore   restoreCmd   `cmd:"" help:"Turn the text of a sheet's codes back into files."`
	Import    importCmd    `cmd:"" help:"Take shelf, hookup and need files into the store."`
	Export    exportCmd    `cmd:"" help:"Write a shelf, hookup or need file."`
	Backup    backupCmd    `cmd:"" help:"Write the whole store to one file."`
	Reinstate reinstateCmd `cmd:"" help:"Put a backup in the place of the store; what was there is kept beside it."`
	Demo      demoCmd      `cmd:"" help:"Fill an empty store with an invented bench, or show the main job on it."`
	Selfcheck selfcheckCmd `cmd:"" help:"Compute published numbers and hold them to what was printed."`
	Schema    schemaCmd    `cmd:"" help:"Print the JSON Schema of a file format or result."`
}
