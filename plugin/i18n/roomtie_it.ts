<?xml version="1.0" encoding="utf-8"?>
<!DOCTYPE TS>
<TS version="2.1" language="it" sourcelanguage="en">
  <context>
    <name>Roomtie</name>
    <message>
      <source>Pages</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Close</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Back</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Forward</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Roomtie help: {page}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan from captures…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Import polar captures…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Captures from point layer…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Adjust stations…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Extract walls…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Build rooms and openings…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Georeference plan…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Compare with taped distances…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Compare with building layer…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Update building layer…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan sheet…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Export drawing…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Export indoor map…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Roomtie</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Describe a text file…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan from the example survey…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Help</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plot scales</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>the project's, else the UTM zone of the geotags</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Target CRS</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>These fill Roomtie's dialogs. Captures that state their own noise keep it.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of a distance</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source> mm</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of an angle</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source> deg</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Text files (*.txt *.csv *.dat *.asc *.xyz);;All files (*)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Describe a text file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Text file to describe</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Station in the picture</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>&amp;Keep</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Keep and &amp;import…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Keep a profile</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Te&amp;xt file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>N&amp;ame of the profile</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Say which way the angles run.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>There is a profile {name} already. Replace it?</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Kept. The next file that looks the same will be read so.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>This file looks like those of the profile {name}.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>No table of numbers is found in this file: say how its lines are split.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>This is a first guess. Check what each column holds and the units, and say which way the angles run: compare the picture with the room.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>The file's lines do not split into these columns.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>This file is {format}, which says itself what it holds: no profile is needed.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Kept. {others} fits this file too and reads it otherwise: the import will ask which one is meant.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>comma ,</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>semicolon ;</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>tab</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>blanks or tabs</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>point 1.5</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>comma 1,5</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>degrees (360)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>gon (400)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>radians (2π)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>metres</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>centimetres</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>millimetres</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>feet</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>inches</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>choose…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>clockwise</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>counterclockwise</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>A row of column &amp;names comes first</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>-1; 9999</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>What the instrument's angle shows in the direction that shall be zero (the one whose compass bearing is taken); it is subtracted.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>The zero error of the distance, from a calibration; it is subtracted.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>What stands in the distance's place where nothing came back, beside a blank and 0; several apart by semicolons.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Lines that begin so are passed over.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Seen from above, as the angles grow.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Lines</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>&amp;Separator</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>&amp;Decimal sign</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Lines to s&amp;kip at the top</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Comment si&amp;gn</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>&amp;Encoding</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Angles</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>&amp;Unit</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Angles &amp;run</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>&amp;Zero direction at</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Distances</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Uni&amp;t</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Zero err&amp;or</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Nothing came &amp;back</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Profiles (*.json)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Kept profiles</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rename a profile</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>New name</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Delete a profile</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Profile from a file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Profile to a file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rena&amp;me…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>De&amp;lete…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>From f&amp;ile…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>To fil&amp;e…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>{name} was written to {path}.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Delete the profile {name}? Its files will be unmarked again.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>No reading can be read.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>1 station</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>{n} stations</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>{stations}, {readings} readings, {gone} without a return</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>The ring turns {way} over {turn:.1f}°</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>The lines split into {count} columns; expected at most {most}.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source> ({count} more like this)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Distances {low:.2f} m to {high:.2f} m, half below {middle:.2f} m</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>not used</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>angle</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>distance</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>zenith angle</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>elevation angle</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>intensity</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>station</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>kind</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>target</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>First lines of the file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>holds</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Column {number} holds</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>the kept one that fits the file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>A kept profile, a profile's .json file, or empty.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Describe…</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Picture of the ring</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>zero direction up</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>nothing to draw yet</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>{count} readings drawn, {way}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Unchanged</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Reshaped</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Moved</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Split</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Merged</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>New</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Removed</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Unresolved</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Room</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Where the plan's outside may lie (95 %)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Within tolerance</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Beyond tolerance</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Station as recorded</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Unconnected station (sketched)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Control</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Tie target</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Check target</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Tie not used</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Sighting</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Overlap tie</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Reading</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Flagged reading</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Wall face</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Face bounding no room</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Doorway</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Window</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Unseen stretch</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Station, 95 % ellipse × {factor} (exaggerated)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>review</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>plan</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>site</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Adjust stations</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Ties the stations by sighted targets and by the wall faces that captures share, and adjusts each connected network in one weighted least-squares adjustment. Every station gets its standard errors; every tie its residual and standardised residual; a tie that does not agree is rejected and listed with the reason.

Stations without a tie are sketched apart by compass and geotag, and said so. They are never joined by guesswork.

A result can be the input again: what the field choice says of a station (hold, leave out) and, in the earlier ties, of a tie (leave out, a factor on its standard error) counts, and stations that were tied are not searched again.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Reference variance</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Degrees of freedom</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Largest standardised residual</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Unconnected stations</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rejected ties</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Held station (empty: free network)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of a distance (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of an angle (deg)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Use sighted targets</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Use overlapping wall faces</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Use compass bearings</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Stations as recorded</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Adjusted stations</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Adjusted readings</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Ties</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Targets</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Network covariance</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Report</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>HTML files (*.html)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Build rooms and openings</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Finds rooms where the captures saw free space between wall faces, and the openings between them: doorways with their widths, and stretches that nobody saw, which are not drawn as walls. Areas lie inside the faces at the instrument's height, with their standard errors; reveals of doorways and of windows that showed glass are not counted, other recesses of walls as you choose. National measuring standards differ: defer to the local one.

Take the readings that Extract walls returns: they say which wall each lies on.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rooms</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Openings</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Wall faces</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the room's name</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the storey</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the area (m²)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the outline's standard error (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the first day of validity</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the last day of validity</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the date of survey</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the report's SHA-256</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the identifier</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Profile of fields: a kept name, or JSON (fields chosen above come first)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Keep these fields under this name</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Angle unit</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Distance unit</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Sense of rotation</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Profile for unmarked text files (empty: the kept one that fits)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Folder of captures, or a capture file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Shortest distance used (m)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Longest distance used (m)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Skip what cannot be read and list it in the report</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Captures from point layer</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Makes captures from layers that you have already: a point layer, say from a drawing or a table, and the points where the instrument stood. Angles and distances are computed from the coordinates; zenith angles and slope distances too where both layers have heights.

Which station a point belongs to is told by a field; without it the nearest station on the point's level is taken, which does not see walls, and the report counts the doubtful ones.

Feet become metres. Layers in degrees are refused: reproject them first. A layer without a coordinate system needs its unit of length. Stations and readings come out where the layers lie; their zero direction is the layer's +y. The standard error of the station points, where it is known, makes them geotags.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Station: name</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Station: level (0 = ground floor)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Station: instrument height (m)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Point: its station (empty: the nearest)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Point: level, where the nearest station is taken</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Point: name of the target</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Point: kind (ring, target, surface)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Point: order of the readings (empty: by angle)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Stations</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Readings</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Points that were measured</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Points where the instrument stood</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Unit of the coordinates</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Scale factor of the layers (length in the layer over length on the ground)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of the station points (m; empty: they give no geotag)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Earlier ties, with what was decided about them</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Earlier network covariance, for stations that are held</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Start</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Search all overlaps anew</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>From adjusted stations; search those that are not tied</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>From adjusted stations; search nothing</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Starts from the poses of {0} of {1} stations.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Compare with building layer</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Matches new rooms with a maintained layer of rooms and says what became of each: unchanged, reshaped, moved, split, merged, new, removed, or unresolved (for a person). A shift of the whole layer is found first and told as one. Each judgement takes the standard errors of both into account.

The layer may be any polygon layer in any coordinate system, with any names of fields; nothing in it is changed. The changes are the input of Update building layer. The report has a map, the areas before and now, and what is wrong in the maintained layer, each with a fix proposed.

Without 'every room was surveyed', an old room of which nothing was seen is left to a person: it may be gone, or nobody went in.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Changes</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Findings on the layer</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Building layer compared</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>New rooms</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Maintained rooms</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Outline of what was surveyed</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of a maintained outline (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of a new outline that gives none (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Confidence of the judgements (%)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Storey (empty: all)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Every room was surveyed: what is not there is gone</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Bring new outlines to where the layer lies, if it is shifted</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rooms changed</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rooms unresolved</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Number of findings</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Compare with taped distances</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Holds taped distances against the plan. The table has a row for each: from_ref and to_ref name what was taped (a wall such as W012, a corner as its two walls W012/W013, or a target), taped_m the length, sigma_taped_mm its standard error if it has one.

Between two walls the distance is square to them from the middle of what they face each other; from a corner or target to a wall square to the wall; between points straight. Each difference is judged by the errors of both (95 %). The accuracy asked for is decided from all distances together; none of them takes part in the adjustment.

The layers may lie in plan coordinates or on the site: distances are those on the ground.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Taped distances compared</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Taped distances</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plot scale of the walls (empty: the finest there is)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of a taped distance where the table gives none (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Accuracy asked for: standard error of a distance (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Distances compared</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Distances beyond tolerance</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Root mean square of the differences (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Turn walls to the building's axes</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Count recesses of walls (niches, closed doors in their reveals) to room areas</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Export drawing</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Writes a plan as a DXF drawing for CAD: walls at the chosen plot scales, openings, rooms as closed polylines with name and area, survey control, stations, survey notes with date and accuracy, and the readings if you want them. The header states the unit. Layers are named after ISO 13567: who, what, how shown, storey, scale.

Plot scales and storeys lie over each other, each on its own layers: the finest scale of the ground floor is switched on, the others off.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Coordinates</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>With readings</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Drawing</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>DXF files (*.dxf)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Export indoor map</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Writes rooms and doorways of a plan as an archive of the Indoor Mapping Data Format 1.0.0 (OGC community standard 20-094): venue, address, building, footprints, storeys, units and openings in WGS 84, and which rooms a doorway joins. The plan must be georeferenced.

What only a person knows (category of the venue, address, names of storeys, use of rooms) can be given here; what is not gets a stand-in that the standard allows, and the report lists each.

Windows and stretches that nobody saw are left out: an opening of the standard is an entrance. The same plan gives the same bytes.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plot scale (empty: the finest of the plan)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Thickness of the outer walls (m)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Date and time of the archive (empty: when the plan was written)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Indoor map</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>IMDF archives (*.zip)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Units</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Choices left to a person</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Indoor map {name}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Extract walls</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Fits straight wall faces to the adjusted readings, each weighted by range, angle and incidence; the faces of one wall seen from several stations become one. Each plot scale gets its own drawing within 0.25 mm on paper. A face is turned to a building axis only where its own standard error cannot tell the difference (or as you choose), and the turn is kept with it.

A plan is not a structural or boundary document.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Readings with their walls</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Own tolerance (mm on the building; empty: 0.25 mm at the plot scale)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Building outlines of the site map</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of an outline's edge (mm)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Georeference plan</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Places plan layers on the earth by one weighted fit of east, north and rotation to what there is: geotags, compass bearings corrected for declination and convergence, and control points. Bearings are tested against each other, so that a compass bent by steel is found and left out.

Move coordinates writes the layers in the target CRS, scaled from ground to grid. Site grid keeps the plan's own axes and true distances in a derived CRS that the host reprojects exactly. Layers that were georeferenced before are taken back to plan coordinates by their stations and fitted again, as often as you like. With rooms among the layers, an error band shows where the plan's outside may lie (95 %).

A plan is not a boundary document: defer to a licensed surveyor.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Declination (deg)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Convergence (deg)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Combined scale factor</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rotation: grid azimuth of plan north (deg)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of the rotation (deg)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of the east (m)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Standard error of the north (m)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan layers</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Targets (needed for control points)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Georeferenced plan</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>GeoPackage files (*.gpkg)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Site grid CRS (WKT)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>The host's Python lacks {packages}. {how}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>From Debian 13 on: apt install python3-shapely. On Debian 12, whose GEOS is that of shapely 2.0: {command}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>The host's Python has shapely {found}, expected 2 or newer. {how}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>shapely was built with GEOS {own}, the host with {hosts}; both in one process would crash the host. Install a shapely with the host's GEOS: {how}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Install it from the shell of the host's own Python: {command}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Import polar captures</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Reads polar captures (capture text, laser scan JSON or LandXML, told apart by content) from a file or a folder, checks every reading and lays the stations out for inspection: by geotag and compass where the files give them, else side by side.

Text files that do not say what their columns are need a profile: describe them once in the menu Roomtie, Describe a text file.

Nothing is left out silently: a reading that is not used carries a flag that says why. The report shows each station's ring and what should be measured again.

Laser safety: observe the class on the instrument's own label.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Name of the venue (empty: that of the plan)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Name of the building (empty: that of the venue)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Address: street and number</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Address: suite or unit</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Address: postal code</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Address: locality</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Address: province (ISO 3166-2, such as IT-BZ)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Address: country (ISO 3166-1, such as IT)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Language of the names (BCP 47)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Names of the storeys, such as 0=Ground floor|G; 1=First floor|1</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the rooms that tells their category</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>What its words mean, such as WC=restroom; Office=office</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field of the openings that tells their category</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Category of rooms of which nothing is known</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Category of the venue</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Correct the instrument's systematic errors where the network tells them</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Calibration captures (one room from several positions)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Calibration</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Level {level}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan from captures</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>From a folder of captures to a georeferenced plan: imports and checks the captures, ties and adjusts the stations, fits the walls, finds rooms and openings at each plot scale and places the plan by geotags, compass bearings and control points. The result is one GeoPackage with all layers and their styles, a report to read, and beside it the same report as JSON.

A survey without geotag and control stays in plan coordinates and says so.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor. Laser safety: observe the class on the instrument's own label.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan {name}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plan sheet</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Puts a plan on paper at a true plot scale: PDF, one sheet a storey, with scale bar, plan north and grid north, title block, area schedule, accuracy, datum and cautions. The layout stays in the project, to be edited and exported again.

The scale is that of the ground: where a plan lies in a grid, distances on the sheet are ground distances, the combined scale factor taken out. Print without fitting to the page.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Plot scale</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Paper</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Level (empty: all, one sheet each)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Sheets</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>PDF files (*.pdf)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Sheets {name}</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>none</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>

Target CRS: empty means the project's where it is projected, else the UTM zone of the geotags. Date and height: empty means as in the captures. Control points: a point layer, or a table with east_m and north_m in the target CRS; sigma_mm where known (else 10 mm); empty means the coordinates that LandXML files among the captures give. Building outlines: a polygon layer of the site map; the plan's outside is fitted to the building it lies in.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Date of the declination (YYYY-MM-DD)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Ellipsoidal height (m)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Control points</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Field with the target's name</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Result</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Network covariance (without it stations count as uncorrelated)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Update building layer</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Brings accepted changes of Compare with building layer into the maintained layer: new outlines, with identifiers and every other attribute kept. Of a split the largest part keeps the identifier and all parts its attributes; a merged room goes on as the old room it has most of. Rooms that end keep their row with a last day of validity where there is such a field, else they go to a history table.

All is one transaction: everything or nothing. A room that somebody changed since it was compared stops the update before anything is written. A dry run does all of it, triggers and foreign keys included, and takes it back. The undo file brings the old state back.

A shapefile, or another format without transactions, is not touched: a changed copy is written.</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Changes to make, of those accepted</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Dry run</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Write areas into their field</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Date of survey (ISO 8601; empty: today)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Report whose SHA-256 is kept</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Undo file of an earlier update, to take it back (instead of changes)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Undo file</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>JSON (*.json)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Copy, for a format without transactions</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Shapefile (*.shp)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>The layer</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Rows changed</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Building layer updated</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Error band (95 %)</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Survey notes</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Known points</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Changes of the building layer</source>
      <translation type="unfinished" />
    </message>
    <message>
      <source>Findings on the building layer</source>
      <translation type="unfinished" />
    </message>
  </context>
</TS>
